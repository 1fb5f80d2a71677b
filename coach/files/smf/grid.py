"""Played ticks to notated beats: where the notes of one part begin and end on paper.

Rules, in this order (a quarter note has `ticks_a_quarter` ticks):

1. A part is *set* (by a notation program or a sequencer's grid) if at least half of its onsets lie
   on a simple fraction of a quarter note, to the nearest tick; otherwise it is *live*.
2. In a set part an onset on a simple fraction stays there; where ticks are rounded, all onsets of
   a quarter note are taken for one grid if they can be.
3. Any other onset is moved, together with those of its quarter note, to the coarsest grid of
   `GRIDS` on which each of them lies within `TOLERANCE_BEATS` and no two fall together; where there
   is none, the ticks stay as they are.
4. Notes that begin within `TOLERANCE_BEATS` of each other and overlap are a chord, unless the part
   is set and both onsets are simple; a chord is as long as its longest note.
5. One voice: what still sounds when a later note or chord begins ends there.
6. If the gap to the next note is small (`GAP_SHARE` of the time between the two onsets, an eighth
   note at most), the note goes on to the next: players and programs let go early.  In a set part
   an end on a plain fraction (`PLAIN`) stays, though, where the rest is a sixteenth or longer.
   Any other end is moved to the coarsest grid that moves it by no more than `END_SHARE` of the
   note, an eighth at most.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, pairwise

from coach.files.smf.song import SongNote

# Half of what is between a triplet's 1/3 and a sixteenth's 1/4, so neither is taken for the other;
# at 120 quarters a minute 21 ms, about what good players stray from the beat.
TOLERANCE_BEATS = Fraction(1, 24)
# Parts of a quarter note, in the order in which they are tried: the everyday ones first.
GRIDS = (1, 2, 3, 4, 6, 8, 5, 7, 12, 16, 24, 32)
# Denominators on which a part is set: all up to a 64th note (1/16), and finer ones that are
# printed (sextuplet 32nds, 128ths).
SIMPLE = (*range(1, 17), 20, 24, 32)
# Ends on others are more likely a note cut to 90 or 95 % than a rest: 9/10, 19/20, 23/24.
PLAIN = (1, 2, 3, 4, 6, 8, 12, 16)
# Up to here an exact fraction is believed before a rounded coarser one.
_COARSE = 16
# Rounding to ticks may not make one grid of another: a step has at least so many.
_TICKS_A_STEP = 8
SET_SHARE = Fraction(1, 2)
GAP_SHARE = Fraction(1, 3)
END_SHARE = Fraction(1, 4)
MOST_MOVED_BEATS = Fraction(1, 2)
# After a note a shorter rest than a sixteenth is seldom printed and often played.
SHORTEST_REST_BEATS = Fraction(1, 4)
# Keeps two notes apart of which the first was moved past the second.
_NUDGE_BEATS = Fraction(1, 960)


@dataclass(frozen=True, slots=True)
class Struck:
    """One note or chord of one voice: beats are quarter notes, `pitches` from low to high; `tick`
    is where it begins in the file."""

    tick: int
    onset: Fraction
    end: Fraction
    pitches: tuple[int, ...]


class Fractions:
    """Which ticks of a quarter note stand for a simple fraction of it."""

    def __init__(self, ticks_a_quarter: Fraction, denominators: Sequence[int]) -> None:
        self.quarter = ticks_a_quarter
        self._at: dict[Fraction, Fraction] = {}
        exact = [d for d in denominators if (ticks_a_quarter / d).denominator == 1]
        for d in (*exact, *(d for d in denominators if d not in exact)):
            for part in range(d):
                self._at.setdefault(Fraction(round(part * ticks_a_quarter / d)), Fraction(part, d))

    def beat(self, tick: int) -> Fraction | None:
        """The beat for which `tick` stands; None if that is no simple one."""
        whole = tick // self.quarter
        part = self._at.get(tick - whole * self.quarter)
        return None if part is None else whole + part


@dataclass(frozen=True, slots=True)
class _Chord:
    tick: int
    off: int
    pitches: tuple[int, ...]


def struck(sounds: Sequence[SongNote], ticks_a_quarter: Fraction) -> list[Struck]:
    """The notes of one part, in order of their beginning, as one voice on paper."""
    simple = Fractions(ticks_a_quarter, SIMPLE)
    is_set = _is_set(sounds, simple)
    chords = list(_chords(sounds, simple if is_set else None, ticks_a_quarter))
    onsets = _onsets([chord.tick for chord in chords], simple if is_set else None, ticks_a_quarter)
    plain = Fractions(ticks_a_quarter, PLAIN) if is_set else None
    made = []
    for place, (chord, onset) in enumerate(zip(chords, onsets, strict=True)):
        later = onsets[place + 1] if place + 1 < len(onsets) else None
        end = _end(onset, chord.off, later, plain, ticks_a_quarter)
        made.append(Struck(chord.tick, onset, end, chord.pitches))
    return made


def exactly_struck(sounds: Sequence[SongNote], ticks_a_quarter: Fraction) -> list[Struck]:
    """As `struck`, but every tick is meant as it is."""
    chords = list(_chords(sounds, None, Fraction(0)))
    beats = [Fraction(chord.tick) / ticks_a_quarter for chord in chords]
    made = []
    for place, chord in enumerate(chords):
        end = Fraction(chord.off) / ticks_a_quarter
        end = min(end, beats[place + 1]) if place + 1 < len(beats) else end
        made.append(Struck(chord.tick, beats[place], end, chord.pitches))
    return made


def _is_set(sounds: Sequence[SongNote], simple: Fractions) -> bool:
    onsets = {sound.on for sound in sounds}
    on_grid = sum(simple.beat(tick) is not None for tick in onsets)
    return on_grid >= SET_SHARE * len(onsets)


def _chords(
    sounds: Sequence[SongNote], simple: Fractions | None, ticks_a_quarter: Fraction
) -> Iterable[_Chord]:
    together: list[SongNote] = []
    widest = TOLERANCE_BEATS * ticks_a_quarter
    for sound in sounds:
        if together and not _belongs(sound, together[0], simple, widest):
            yield _chord(together)
            together = []
        together.append(sound)
    if together:
        yield _chord(together)


def _belongs(sound: SongNote, first: SongNote, simple: Fractions | None, widest: Fraction) -> bool:
    if sound.on == first.on:
        return True
    if sound.on - first.on > widest or first.off <= sound.on:
        return False
    return simple is None or simple.beat(sound.on) is None or simple.beat(first.on) is None


def _chord(sounds: Sequence[SongNote]) -> _Chord:
    pitches = tuple(sorted({sound.pitch for sound in sounds}))
    return _Chord(sounds[0].on, max(sound.off for sound in sounds), pitches)


def _onsets(
    ticks: Sequence[int], simple: Fractions | None, ticks_a_quarter: Fraction
) -> list[Fraction]:
    """Beats of the onsets, each later than the one before."""
    beats = [(Fraction(tick) / ticks_a_quarter, tick) for tick in ticks]
    made: list[Fraction] = []
    # A note a little before the beat belongs to that beat.
    for quarter, group in groupby(beats, key=lambda beat: (beat[0] + TOLERANCE_BEATS).__floor__()):
        played = list(group)
        fixed = [simple.beat(tick) if simple else None for _, tick in played]
        parts = [beat - quarter for beat, _ in played]
        moved = _on_grid(parts, fixed, quarter, ticks_a_quarter)
        made += _rising(moved, [beat for beat, _ in played], made[-1] if made else Fraction(-1))
    return made


def _on_grid(
    parts: Sequence[Fraction],
    fixed: Sequence[Fraction | None],
    quarter: int,
    ticks_a_quarter: Fraction,
) -> list[Fraction]:
    """The onsets of one quarter note, `parts` from its start: fixed, on a grid, or as played."""
    if all(beat is not None for beat in fixed):
        even = _even(parts, ticks_a_quarter)
        return [quarter + place for place in even] if even else [b for b in fixed if b is not None]
    moved = next(filter(None, (_moved(parts, grid, TOLERANCE_BEATS) for grid in GRIDS)), parts)
    pairs = zip(fixed, moved, strict=True)
    return [quarter + place if beat is None else beat for beat, place in pairs]


def _even(parts: Sequence[Fraction], ticks_a_quarter: Fraction) -> list[Fraction]:
    """The onsets on one grid to the nearest tick, where it is not much finer than ticks; a
    septuplet's 27 of 96 ticks are 2/7, though 9/32 exactly.  Nothing if there is none."""
    if math.lcm(*(part.denominator for part in parts)) <= _COARSE:
        return list(parts)
    half_tick = 1 / (2 * ticks_a_quarter)
    grids = (grid for grid in SIMPLE if grid * _TICKS_A_STEP <= ticks_a_quarter)
    return next(filter(None, (_moved(parts, grid, half_tick) for grid in grids)), [])


def _moved(parts: Sequence[Fraction], grid: int, most: Fraction) -> list[Fraction]:
    """The nearest places on the grid; nothing if one is farther than `most` or two are one."""
    places: list[Fraction] = []
    for part in parts:
        place = Fraction(round(part * grid), grid)
        if abs(place - part) > most or (places and place == places[-1]):
            return []
        places.append(place)
    return places


def _rising(moved: list[Fraction], played: list[Fraction], before: Fraction) -> list[Fraction]:
    """`moved`, or what was played where two of them would fall together or change places."""
    for row in (moved, played):
        if all(a < b for a, b in pairwise([before, *row])):
            return row
    return [max(beat, before + (place + 1) * _NUDGE_BEATS) for place, beat in enumerate(played)]


def _end(
    onset: Fraction,
    off: int,
    later: Fraction | None,
    plain: Fractions | None,
    ticks_a_quarter: Fraction,
) -> Fraction:
    """Where a note that begins at `onset` ends; `later` is the next onset, None at the end."""
    played = max(Fraction(off) / ticks_a_quarter, onset)
    told = plain.beat(off) if plain else None
    if told is not None and told <= onset:
        told = None
    if later is not None:
        most = MOST_MOVED_BEATS if told is None else SHORTEST_REST_BEATS - _NUDGE_BEATS
        if later - played <= min(GAP_SHARE * (later - onset), most):
            return later
    if told is not None:
        return told
    end = _nearest_end(onset, played)
    return end if later is None else min(end, later)


def _nearest_end(onset: Fraction, played: Fraction) -> Fraction:
    """A grid point after `onset`; for a note shorter than any the smallest step."""
    most = min(END_SHARE * (played - onset), MOST_MOVED_BEATS)
    for grid in GRIDS:
        end = Fraction(round(played * grid), grid)
        if end > onset and abs(end - played) <= most:
            return end
    return max(played, onset + Fraction(1, GRIDS[-1]))
