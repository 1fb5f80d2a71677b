"""The strokes of the tongue in a passage: which follow each other in one run, which begin anew."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, pairwise

from coach.core.passage import BarSpan, Note, Passage, bar_index
from coach.core.tonguing.style import Style


@dataclass(frozen=True, slots=True)
class Stroke:
    """A tongued note.

    `linked`: it follows the stroke before in one run; else `broken` says by what it is parted
    ("start", "rest", "slur", "long").  `on_beat`: a pattern begins anew here.  `leap` is the leap
    to this note in semitones, 0 for smaller steps; `after_beats` the time to the next note, or
    its own length before a rest; `rate_hz` strokes a second from the one before (0 at the start).
    """

    index: int
    note: Note
    linked: bool
    broken: str
    on_beat: bool
    leap: int
    after_beats: Fraction
    rate_hz: float


def strokes_of(passage: Passage, tempo_bpm: float, style: Style) -> tuple[Stroke, ...]:
    """The tongued notes in order; `tempo_bpm` counts pulses a minute."""
    notes, bars = passage.notes, passage.bars
    made: list[Stroke] = []
    pace = _Pace(passage, tempo_bpm, style)
    for index, note in enumerate(notes):
        if note.slurred:
            continue
        last = notes[index - 1] if index else None
        broken = pace.broken(index)
        leap = abs(note.pitch - last.pitch) if last else 0
        made.append(
            Stroke(
                index,
                note,
                not broken,
                broken,
                _on_beat(bars, note, last, bool(broken)),
                leap if leap >= style.leap_semitones else 0,
                pace.after_beats(index),
                pace.rate_hz(index),
            )
        )
    return tuple(made)


class _Pace:
    """How close together the notes of a passage are for the tongue."""

    def __init__(self, passage: Passage, tempo_bpm: float, style: Style) -> None:
        self._notes, self._style = passage.notes, style
        self._pulses_hz = tempo_bpm / 60
        self._pulse_beats = passage.pulse_beats
        self._longest_beats = _longest_link_beats(passage, style)

    def rate_hz(self, index: int) -> float:
        """Notes a second from the note before to this one, 0 for the first."""
        beats = self._before_beats(index)
        return float(self._pulse_beats / beats) * self._pulses_hz if index else 0.0

    def after_beats(self, index: int) -> Fraction:
        if index + 1 == len(self._notes) or self._is_rest(index + 1):
            return self._notes[index].length_beats
        return self._before_beats(index + 1)

    def broken(self, index: int) -> str:
        """What parts a note from the one before: see `Stroke`."""
        if index == 0:
            return "start"
        if self._is_rest(index):
            return "rest"
        if self._notes[index - 1].slurred:
            return "slur"
        before = self._before_beats(index)
        only_short = index + 1 == len(self._notes) and self._is_silent(index)
        if not only_short and before >= self.after_beats(index) * Fraction(self._style.long_ratio):
            return "rest" if self._is_silent(index) else "long"
        close = before < self._longest_beats if self._style.at_any_tempo else self._is_over(index)
        return "" if close else "long"

    def _before_beats(self, index: int) -> Fraction:
        return self._notes[index].start_beats - self._notes[index - 1].start_beats

    def _is_over(self, index: int) -> bool:
        """Rates come from floats: a rate on the limit itself is still single."""
        return self.rate_hz(index) > self._style.single_limit_hz * (1 + 1e-9)

    def _is_rest(self, index: int) -> bool:
        """Silence between notes too quick for single tonguing is only how short they are."""
        return self._is_silent(index) and not self._is_over(index)

    def _is_silent(self, index: int) -> bool:
        silence = self._notes[index].start_beats - self._notes[index - 1].end_beats
        share = Fraction(self._style.rest_share)
        return silence > 0 and silence >= self._before_beats(index) * share


def _longest_link_beats(passage: Passage, style: Style) -> Fraction:
    """Where a style is used at any tempo, strokes this far apart stand alone.

    A beat; but in a passage of nothing faster, its own fastest notes still follow each other.
    """
    apart = [b.start_beats - a.start_beats for a, b in pairwise(passage.notes) if not b.slurred]
    shortest = min(apart, default=passage.pulse_beats)
    return max(passage.pulse_beats, shortest * Fraction(style.long_ratio))


def _on_beat(bars: Sequence[BarSpan], note: Note, last: Note | None, broken: bool) -> bool:
    """In a run of one note to a beat only the bar begins a pattern anew."""
    bar = bars[bar_index(bars, note.start_beats)]
    place = note.start_beats - bar.start_beats
    divided = broken or not last or note.start_beats - last.start_beats < bar.pulse_beats
    return place == 0 or (divided and place % bar.pulse_beats == 0)


def threes(strokes: Sequence[Stroke], passage: Passage, style: Style) -> dict[int, int]:
    """Places 0, 1, 2 in groups of three, by position in `strokes`, where triple is used."""
    bars = passage.bars

    def beat(k: int) -> tuple[Fraction, Fraction]:
        start = strokes[k].note.start_beats
        bar = bars[bar_index(bars, start)]
        return bar.start_beats, Fraction((start - bar.start_beats) // bar.pulse_beats)

    found: dict[int, int] = {}
    for _, places in groupby(range(len(strokes)), beat):
        for even in _even(list(places), strokes):
            bar = bars[bar_index(bars, strokes[even[0]].note.start_beats)]
            if _in_threes([strokes[k] for k in even], bar, style):
                found.update((k, count % 3) for count, k in enumerate(even))
    return found


def _even(places: Sequence[int], strokes: Sequence[Stroke]) -> list[list[int]]:
    """One beat's strokes cut into linked stretches of equal notes."""
    stretches: list[list[int]] = []
    for k in places:
        before = strokes[k - 1].after_beats if stretches else None
        goes_on = before is not None and strokes[k].linked and strokes[k].after_beats <= before
        if goes_on and (len(stretches[-1]) == 1 or before == strokes[k - 2].after_beats):
            stretches[-1].append(k)
        else:
            stretches.append([k])
    return stretches


def _in_threes(even: Sequence[Stroke], bar: BarSpan, style: Style) -> bool:
    if style.force == "triple":
        return len(even) >= 3
    first = even[0]
    place = (first.note.start_beats - bar.start_beats) % bar.pulse_beats
    parts = bar.pulse_beats / first.after_beats
    whole = parts.denominator == 1 and parts % 3 == 0
    return whole and len(even) % 3 == 0 and place % (3 * first.after_beats) == 0
