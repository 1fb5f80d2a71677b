"""An instrument: how its part is written, how far it reaches, and its tubes and valves."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Tube:
    """One open length: `fundamental` is the sounding MIDI number of its first partial with no valve
    down, fractional where its slide is off by cents.

    `side` names it ("F", "Bb", "high F"; "" where there is only one); `lever` is what the thumb
    holds for it: "" (nothing), "T", or "H" for a second lever (the high side of a triple horn).
    """

    side: str
    fundamental: float
    lever: str = ""


@dataclass(frozen=True, slots=True)
class Valve:
    """`name` is one digit; tuned alone, the valve lowers the open tube by `semitones`."""

    name: str
    semitones: int


@dataclass(frozen=True, slots=True)
class Instrument:
    """`transposition` turns written into sounding pitch (horn in F: -7 semitones);
    `lowest` and `highest` are sounding MIDI numbers.

    `combinations` are the valves used together ("0", "2", "12"), for a slide its positions ("1" to
    "7"); one that begins with a lever's letter ("T3") holds for that tube only, and a tube with
    such entries has no others.  Among combinations of the same drop the customary one comes first.
    `used_as` gives the semitones of combinations that stand for another drop than the sum of their
    valves (1+2+4 without compensation is nearer to seven semitones than to eight).
    `compensating` names the valve that sends the air through a second set of loops.
    `chart` holds the standard fingering by sounding MIDI number.
    `stopped_side` is the side on which the hand can stop the horn; None: no stopping.
    `crooks` are names and transpositions of the crooks that can be put in.
    """

    name: str
    title: str
    transposition: int
    lowest: int
    highest: int
    tubes: tuple[Tube, ...] = ()
    valves: tuple[Valve, ...] = ()
    combinations: tuple[str, ...] = ("0",)
    compensating: str = ""
    slide: bool = False
    highest_partial: int = 16
    used_as: tuple[tuple[str, int], ...] = ()
    chart: tuple[tuple[int, str], ...] = ()
    stopped_side: str | None = None
    crooks: tuple[tuple[str, int], ...] = ()

    def reaches(self, pitch: int) -> bool:
        """Whether the sounding `pitch` lies in the range."""
        return self.lowest <= pitch <= self.highest
