"""Which scale or arpeggio a passage is made of, as the player reads it.

A passage is a scale if nearly all its notes belong to the scale, all of it but one note comes, and
nearly every move is a step, a third, an octave, or inside or beside a broken triad; an arpeggio if
nearly all its notes belong to one chord and all of the chord comes.  Scales of the same notes
(C major, A minor, D dorian) are told apart by the last note, then the first; others than major,
minor and harmonic minor must begin or end on their first note.  Each has one name (Gb major, never
F# major): it is the same to the fingers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from coach.core.passage import Passage
from coach.core.patterns.keys import CHORDS, SCALES, Mode, all_keys, place_of_key
from coach.core.pitch import written_of_sounding
from coach.core.profile.patterns import on_one_fingering

FEWEST_NOTES = 6
# Nearly all, here and below: design judgement.
NEARLY = 0.9
THIRD, OCTAVE = 4, 12
ANYWHERE = ("major", "minor", "harmonic_minor")


def scale_of(passage: Passage, transposition: int) -> str | None:
    """ "G major", "A harmonic minor", "chromatic", "G major arpeggio", "G dominant seventh
    arpeggio" ...; None if it is nothing of that sort, or written on one fingering: no finger moves.

    Named by written pitch, which is sounding - `transposition`.
    """
    written = [written_of_sounding(note.pitch, transposition) for note in passage.notes]
    if len(written) < FEWEST_NOTES or len(set(written)) < 3 or on_one_fingering(passage):
        return None
    if _chromatic(written):
        return "chromatic"
    return _arpeggio(written) or _scale(written)


def _chromatic(written: Sequence[int]) -> bool:
    moves = [abs(b - a) for a, b in pairwise(written)]
    semitones = moves.count(1) >= NEARLY * len(moves)
    return semitones and len(set(written)) >= FEWEST_NOTES


def _arpeggio(written: Sequence[int]) -> str | None:
    found = [
        (-_share(written, rungs), *_far(written, tonic), f"{key} {_chord(mode)} arpeggio")
        for mode in CHORDS.values()
        for key, tonic in _tonics(mode)
        if _share(written, rungs := _rungs(tonic, mode.up)) >= NEARLY
        and rungs <= {pitch % 12 for pitch in written}
    ]
    return min(found)[-1] if found else None


def _chord(mode: Mode) -> str:
    return mode.title.removesuffix(" chord")


def _scale(written: Sequence[int]) -> str | None:
    came = {pitch % 12 for pitch in written}
    found = []
    for order, (name, mode) in enumerate(SCALES.items()):
        for key, tonic in _tonics(mode):
            if name not in ANYWHERE and all(_far(written, tonic)):
                continue
            up, every = _rungs(tonic, mode.up), _rungs(tonic, mode.up + mode.down)
            absent, share = len(up - came), _share(written, every)
            if absent <= 1 and share >= NEARLY and _flows(written, tonic, mode):
                told = f"{key} {mode.title}"
                found.append((absent, -share, *_far(written, tonic), order, told))
    return min(found)[-1] if found else None


def _tonics(mode: Mode) -> Iterator[tuple[str, int]]:
    """Every key with the pitch class of its tonic."""
    for key in all_keys(mode):
        yield key, 7 * place_of_key(key) % 12


def _rungs(tonic: int, steps: Sequence[int]) -> frozenset[int]:
    return frozenset((tonic + step) % 12 for step in steps)


def _share(written: Sequence[int], rungs: frozenset[int]) -> float:
    return sum(pitch % 12 in rungs for pitch in written) / len(written)


def _far(written: Sequence[int], tonic: int) -> tuple[bool, bool]:
    """What speaks against this tonic: that it is not the last note, that it is not the first."""
    return written[-1] % 12 != tonic, written[0] % 12 != tonic


def _flows(written: Sequence[int], tonic: int, mode: Mode) -> bool:
    """Whether nearly every move is a step, a third, an octave, or lies inside or beside three notes
    of a triad of the scale."""
    triads = {_rungs(tonic, triad) for steps in (mode.up, mode.down) for triad in _triads(steps)}
    threes = zip(written, written[1:], written[2:], strict=False)
    broken = [_rungs(0, three) in triads for three in threes]
    good = 0
    for k, (a, b) in enumerate(pairwise(written)):
        narrow = abs(b - a) <= THIRD or abs(b - a) == OCTAVE
        good += narrow or any(broken[max(0, k - 2) : k + 2])
    return good >= NEARLY * (len(written) - 1)


def _triads(steps: Sequence[int]) -> Iterator[list[int]]:
    for k in range(len(steps)):
        yield [steps[(k + up) % len(steps)] for up in (0, 2, 4)]
