"""A part at a glance: what is in it, and how fast it gets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, TypeVar

from coach.core.pitch import Spelled, name_of_midi
from coach.core.score.crooks import crook_name
from coach.core.score.line import Line
from coach.core.score.paced import bar_place
from coach.core.score.partnames import instrument_of
from coach.core.score.runs import Run, fastest

T = TypeVar("T")
_TRUMPETS = ("trumpet", "cornet", "flugelhorn")


@dataclass(frozen=True, slots=True)
class PartView:
    """One part: printed numbers of its first and last bar, how many bars are printed; changes as
    (printed bar, value): keys as sharps or minus flats, meters as text, tempi in quarter notes a
    minute (none where none is marked); its notes without grace notes, the lowest and highest
    written and sounding (None where there are no notes).

    `instrument` is its file in configs/instruments/, None if there is none for it.
    """

    part: str
    instrument: str | None
    transposition: int
    crook: str
    first: str
    last: str
    bars: int
    keys: tuple[tuple[str, int], ...]
    meters: tuple[tuple[str, str], ...]
    tempos: tuple[tuple[str, float], ...]
    notes: int
    written: tuple[Spelled, Spelled] | None
    sounding: tuple[int, int] | None
    runs: tuple[Run, ...]

    def to_dict(self) -> dict[str, Any]:
        """As JSON; pitches by name, bars as printed."""
        return {
            "part": self.part,
            "instrument": self.instrument,
            "transposition": self.transposition,
            "crook": self.crook,
            "first_bar": self.first,
            "last_bar": self.last,
            "bars": self.bars,
            "keys": [{"bar": bar, "fifths": fifths} for bar, fifths in self.keys],
            "meters": [{"bar": bar, "meter": meter} for bar, meter in self.meters],
            "tempos": [{"bar": bar, "quarter_bpm": round(bpm, 3)} for bar, bpm in self.tempos],
            "notes": self.notes,
            "written": [each.name for each in self.written] if self.written else None,
            "sounding": [name_of_midi(each) for each in self.sounding] if self.sounding else None,
            "runs": [run.to_dict() for run in self.runs],
        }


def overview(line: Line, sound: str = "", most_runs: int = 3) -> PartView:
    """`line`: the whole part; `sound`: as in `model.Part`."""
    numbers = {bar.index: bar.number for bar in line.bars}
    instrument = instrument_of(line.part, sound)
    notes = line.sounded
    written = [note.written for note in notes]
    sounding = [note.sounding for note in notes]
    return PartView(
        line.part,
        instrument,
        line.transposition,
        crook_of_part(instrument, line.transposition),
        numbers[min(numbers)] if numbers else "",
        numbers[max(numbers)] if numbers else "",
        len(numbers),
        _at_bars(line, line.keys),
        _at_bars(line, tuple((at, meter.text) for at, meter in line.meters)),
        _at_bars(line, line.tempos),
        len(notes),
        (min(written, key=_height), max(written, key=_height)) if written else None,
        (min(sounding), max(sounding)) if sounding else None,
        fastest(line, most_runs),
    )


def crook_of_part(instrument: str | None, transposition: int) -> str:
    """What a horn or trumpet part is "in"; "" for others, whose transposition never changes."""
    if instrument in _TRUMPETS:
        return crook_name(transposition, "trumpet")
    return crook_name(transposition) if instrument and instrument.endswith("-horn") else ""


def _height(pitch: Spelled) -> int:
    return pitch.midi


def _at_bars(line: Line, changes: Sequence[tuple[Fraction, T]]) -> tuple[tuple[str, T], ...]:
    """Changes by printed bar, each once though a repeat brings it back."""
    named = ((line.bars[bar_place(line.bars, at)].number, value) for at, value in changes)
    return tuple(dict.fromkeys(named)) if line.bars else ()
