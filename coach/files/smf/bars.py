"""Bars out of time signatures, and notes cut at their bar lines."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from coach.core.score.model import Frame, Meter
from coach.errors import FileError

# Five and a half hours of 4/4 at 120; no movement has a tenth of that.
MOST_BARS = 10_000


@dataclass(frozen=True, slots=True)
class Bars:
    """Where bars begin (quarter notes from the start) and where the last one ends."""

    starts: tuple[Fraction, ...]
    meters: tuple[Meter, ...]
    end: Fraction

    def length(self, place: int) -> Fraction:
        later = self.starts[place + 1] if place + 1 < len(self.starts) else self.end
        return later - self.starts[place]

    def place(self, beat: Fraction) -> int:
        """Which bar a beat lies in; what lies after the last bar is in the last one."""
        return bisect_right(self.starts, beat) - 1


def bars_of(
    meters: Iterable[tuple[Fraction, Meter]], notes_end: Fraction, end: Fraction, where: str
) -> Bars:
    """Bars that hold all notes, and the whole bars of silence up to `end`.

    4/4 before the first time signature; one in the middle of a bar begins a new bar.  FileError if
    the notes reach beyond `MOST_BARS` bars; silence beyond them is left out.
    """
    starts: list[Fraction] = []
    used: list[Meter] = []
    for start, meter in _each_bar(_in_order(meters)):
        if start >= notes_end and starts and start + meter.bar_beats > end:
            return Bars(tuple(starts), tuple(used), start)
        if len(starts) == MOST_BARS:
            if start >= notes_end:
                return Bars(tuple(starts), tuple(used), start)
            raise FileError(
                f"the notes go on beyond {MOST_BARS:,} bars, longer than any movement",
                where,
                "look for a note far behind the others, or export the file once more",
            )
        starts.append(start)
        used.append(meter)
    raise AssertionError("bars never end by themselves")


def _in_order(meters: Iterable[tuple[Fraction, Meter]]) -> list[tuple[Fraction, Meter]]:
    """One meter at a time, from the start on; of several at once the last."""
    at = {Fraction(0): Meter()} | dict(sorted(meters, key=lambda change: change[0]))
    return list(at.items())


def _each_bar(changes: Sequence[tuple[Fraction, Meter]]) -> Iterator[tuple[Fraction, Meter]]:
    start = Fraction(0)
    for place, (_, meter) in enumerate(changes):
        until = changes[place + 1][0] if place + 1 < len(changes) else None
        while until is None or start < until:
            yield start, meter
            start = (
                start + meter.bar_beats if until is None else min(start + meter.bar_beats, until)
            )


def frames_of(bars: Bars, tempos: Iterable[tuple[Fraction, float]]) -> tuple[Frame, ...]:
    """The bars with their tempo marks, (beat, quarters a minute), numbered from 1."""
    marks: dict[int, list[tuple[Fraction, float]]] = {}
    for beat, qpm in tempos:
        if beat < bars.end:
            place = bars.place(beat)
            marks.setdefault(place, []).append((beat - bars.starts[place], qpm))
    return tuple(
        Frame(str(place + 1), bars.length(place), meter, tempos=tuple(marks.get(place, ())))
        for place, meter in enumerate(bars.meters)
    )


def cut(bars: Bars, onset: Fraction, end: Fraction) -> Iterator[tuple[int, Fraction, Fraction]]:
    """(bar, onset in it, length) of each piece of a note."""
    place = bars.place(onset)
    while onset < end:
        bar_end = bars.starts[place] + bars.length(place)
        piece_end = min(end, bar_end) if place + 1 < len(bars.starts) else end
        yield place, onset - bars.starts[place], piece_end - onset
        onset, place = piece_end, place + 1
