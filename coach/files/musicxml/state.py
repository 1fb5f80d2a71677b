"""What is in force in a part (clef, key, transposition, meter), and how it changes in a bar."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Generic, TypeVar
from xml.etree.ElementTree import Element

from coach.core.pitch import Spelled
from coach.core.score.model import Meter
from coach.files.musicxml import limits
from coach.files.musicxml.meters import meter_of
from coach.files.musicxml.pitches import (
    UNISON,
    Interval,
    interval_of,
    key_of,
    written_for,
    written_key,
)
from coach.files.musicxml.place import Place
from coach.files.musicxml.values import number_of, whole_at

Value = TypeVar("Value")
_CLEFS = ("G", "F", "C")
_ALL_STAVES = 0


class PerStaff(Generic[Value]):
    """A value of each staff, which may change inside a bar.

    Voices go back in time, so it is asked for by the place in the bar.
    """

    def __init__(self, default: Value) -> None:
        self._default = default
        self._begin: dict[int, Value] = {}
        self._changes: list[tuple[int, Fraction, Value]] = []

    def change(self, staff: int, at: Fraction, value: Value) -> None:
        if staff == _ALL_STAVES:
            self._changes.extend((known, at, value) for known in self._begin if known)
        if staff not in self._begin:
            self._begin[staff] = self.at(staff, at)
        self._changes.append((staff, at, value))

    def at(self, staff: int, at: Fraction) -> Value:
        found = self._begin.get(staff, self._begin.get(_ALL_STAVES, self._default))
        for of, since, value in self._changes:
            if since <= at and (of == staff or (of == _ALL_STAVES and staff not in self._begin)):
                found = value
        return found

    @property
    def changes(self) -> int:
        return len(self._changes)

    def next_bar(self) -> None:
        for staff, _, value in self._changes:
            self._begin[staff] = value
        self._changes.clear()


@dataclass(frozen=True, slots=True)
class Transposing:
    """How a part is written: `interval` leads from written to sounding; `printed`, from what the
    file prints to sounding (the same, but in scores that are printed at concert pitch)."""

    interval: Interval = UNISON
    printed: Interval = UNISON

    def written(self, printed_pitch: Spelled) -> Spelled:
        if self.interval == self.printed:
            return printed_pitch
        steps = self.interval.steps - self.printed.steps
        semitones = self.interval.semitones - self.printed.semitones
        return written_for(printed_pitch, Interval(steps, semitones))


class State:
    """What holds in one part; `keys` and `meters` are the changes in the bar being read."""

    def __init__(self) -> None:
        self.divisions = Fraction(1)
        self.clefs: PerStaff[str] = PerStaff("G")
        self.transposing: PerStaff[Transposing] = PerStaff(Transposing())
        self.first_interval: Interval | None = None
        self.meter = Meter()
        self.metered = False
        self.repeated_bars = 0  # how many bars back the music is to be copied from; 0: not at all
        self.keys: list[tuple[Fraction, int]] = []
        self.meters: list[tuple[Fraction, Meter]] = []
        self._printed_key: int | None = None

    def begin_bar(self) -> None:
        self.keys, self.meters = [], []

    def end_bar(self) -> None:
        self.clefs.next_bar()
        self.transposing.next_bar()

    def read(self, attributes: Element, at: Fraction, place: Place) -> None:
        """Take up what an <attributes> at this place in the bar says."""
        self._read_divisions(attributes, place)
        for tag in ("transpose", "for-part"):
            for said in attributes.iterfind(tag):
                self._transpose(said, at, place)
        self._read_keys(attributes, at, place)
        for clef in attributes.iterfind("clef"):
            self._clef(clef, at)
        time = attributes.find("time")
        if time is not None:
            self._time(time, at, place)
        if max(self.clefs.changes, self.transposing.changes, len(self.keys)) > limits.MAX_CHANGES:
            raise place.error("the bar changes clefs, keys or transpositions without end")
        repeat = attributes.find("measure-style/measure-repeat")
        if repeat is not None:
            self._repeat(repeat)

    def _read_divisions(self, attributes: Element, place: Place) -> None:
        said = attributes.findtext("divisions")
        if said is None:
            return
        divisions = number_of(said)
        if divisions is None or not 0 < divisions <= limits.MAX_DIVISIONS:
            raise place.error(f"divisions of {said.strip()[:20]!r} make no sense")
        self.divisions = divisions

    def _transpose(self, said: Element, at: Fraction, place: Place) -> None:
        staff = min(max(_ALL_STAVES, whole_at(said, "number", _ALL_STAVES)), limits.MAX_STAVES)
        if said.tag == "transpose":
            interval = interval_of(said, place)
            found = Transposing(interval, interval)
        else:
            part = said.find("part-transpose")
            interval = UNISON if part is None else interval_of(part, place)
            found = Transposing(interval, self.transposing.at(staff, at).printed)
        self.transposing.change(staff, at, found)
        if self.first_interval is None:
            self.first_interval = interval

    def _read_keys(self, attributes: Element, at: Fraction, place: Place) -> None:
        """The key of the first staff; it moves with the part in a score at concert pitch."""
        said = [key for key in attributes.iterfind("key") if whole_at(key, "number", 1) == 1]
        if said:
            self._printed_key = key_of(said[-1], place)
        moved = attributes.find("for-part") is not None
        if self._printed_key is None or not (said or moved):
            return
        transposing = self.transposing.at(1, at)
        key = self._printed_key
        if transposing.interval != transposing.printed:
            key = written_key(key, transposing.interval)
        self.keys = [known for known in self.keys if known[0] != at]
        self.keys.append((at, key))

    def _clef(self, clef: Element, at: Fraction) -> None:
        sign = (clef.findtext("sign") or "").strip()
        staff = min(max(1, whole_at(clef, "number", 1)), limits.MAX_STAVES)
        self.clefs.change(staff, at, sign if sign in _CLEFS else "G")

    def _time(self, time: Element, at: Fraction, place: Place) -> None:
        meter = meter_of(time, place)
        self.metered = meter is not None
        if meter is not None:
            self.meter = meter
            self.meters.append((at, meter))

    def _repeat(self, repeat: Element) -> None:
        bars = number_of(repeat.text) or 1
        self.repeated_bars = int(bars) if repeat.get("type") == "start" and bars < 9 else 0
