"""Where the other voices start, as written or as heard from those who played them; what sounds."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import pairwise

from coach.core.timeline import Plan, frame_of
from coach.core.tutti.ensemble import Ensemble, Sounded

# An attack further from its place than this, or than a share of the way to the next note, is
# another note's: the widest window of the usual rules, twice.
WINDOW_MS, WINDOW_SHARE = 100.0, 0.45


def starts_of(
    plan: Plan, ensemble: Ensemble, other_attacks: Mapping[int, Sequence[int]] | None
) -> dict[int, dict[Fraction, int]]:
    """For each other voice the frame of each beat on which it starts a note; the heard ones only
    for a voice in `other_attacks`."""
    heard = other_attacks or {}
    made: dict[int, dict[Fraction, int]] = {}
    for voice in ensemble.others:
        beats = sorted({note.start_beats for note in ensemble.voices[voice].notes})
        dues = [frame_of(plan.exercise, plan.rate, plan.downbeat_frame, beat) for beat in beats]
        found = _found(dues, sorted(heard[voice]), plan.rate) if voice in heard else dues
        made[voice] = {beat: at for beat, at in zip(beats, found, strict=True) if at is not None}
    return made


def _found(dues: Sequence[int], attacks: Sequence[int], rate: int) -> list[int | None]:
    """For each due the attack nearest to it inside its window."""
    gaps = [b - a for a, b in pairwise(dues)]
    widest = round(WINDOW_MS * rate / 1000)
    found: list[int | None] = []
    for place, due in enumerate(dues):
        around = gaps[max(0, place - 1) : place + 1]
        reach = min([widest, *(WINDOW_SHARE * gap for gap in around)])
        near = _nearest(attacks, due)
        found.append(near if near is not None and abs(near - due) <= reach else None)
    return found


def _nearest(attacks: Sequence[int], due: int) -> int | None:
    place = bisect_left(attacks, due)
    around = attacks[max(0, place - 1) : place + 1]
    return min(around, key=lambda at: abs(at - due), default=None)


def stops_at(ensemble: Ensemble, beats: Fraction) -> tuple[int, ...]:
    """The other voices that end a note at `beats` and are silent then."""
    return tuple(voice for voice in ensemble.others if _stops(ensemble.voices[voice].notes, beats))


def _stops(notes: Sequence[Sounded], beats: Fraction) -> bool:
    ends = any(note.end_beats == beats for note in notes)
    return ends and not any(note.start_beats <= beats < note.end_beats for note in notes)


def chords(ensemble: Ensemble, beats: Iterable[Fraction]) -> Iterator[tuple[int, ...]]:
    """What sounds in the other voices at each of `beats`, which are in order: MIDI numbers."""
    voices = (ensemble.voices[voice] for voice in ensemble.others)
    notes = sorted((n for voice in voices for n in voice.notes), key=lambda n: n.start_beats)
    sounding: list[Sounded] = []
    begun = 0
    for beat in beats:
        while begun < len(notes) and notes[begun].start_beats <= beat:
            sounding.append(notes[begun])
            begun += 1
        sounding = [note for note in sounding if note.end_beats > beat]
        yield tuple(note.pitch for note in sounding)
