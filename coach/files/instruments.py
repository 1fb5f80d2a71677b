"""Instrument files, configs/instruments/*.toml.

title = "double horn"
like = "trumpet"            optional: what is not said here is as in that file beside this one
transposition = -7          semitones from written to sounding
lowest = 29                 the range, as sounding MIDI numbers
highest = 82
fundamental = 34            first partial of an instrument with one tube (sounding MIDI number)
combinations = ["0", "2"]   valves used together, or positions of a slide
compensating = "4"          optional: the valve with a second set of loops
slide = false               optional
highest_partial = 16        optional
stopped_side = "F"          optional: the side that the hand can stop
[tubes.F]                   or several tubes by side
fundamental = 29
lever = ""                  what the thumb holds for it: "", "T" or "H"
[valves]                    semitones by which each lowers the open tube
1 = 2
[used_as]                   optional: combinations that stand for another drop than their sum
124 = 7
[crooks]                    optional: transposition by name
Eb = -9
[chart]                     optional: standard fingering by written note
C4 = "0"
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from coach.core.fingering.candidates import HIGHEST_PARTIAL, candidates
from coach.core.instrument import Instrument, Tube, Valve
from coach.core.pitch import midi_of_name, sounding_of_written
from coach.files.toml import Table, read_toml

LEVERS = ("", "T", "H")
LOWEST_MIDI, HIGHEST_MIDI = 0, 127
LOWEST_FUNDAMENTAL, HIGHEST_FUNDAMENTAL = 10, 70
_LARGEST_DROP = 24
_VALVES = ("1", "2", "3", "4")


def read_instrument(path: Path) -> Instrument:
    """An instrument file; FileError names the key that is wrong and what it may be."""
    table = Table(read_toml(path), path)
    model = _model(table)
    title, transposition = table.text("title"), table.whole("transposition", -36, 24)
    lowest = table.whole("lowest", LOWEST_MIDI, HIGHEST_MIDI)
    highest = table.whole("highest", lowest, HIGHEST_MIDI)
    model = replace(
        model,
        name=path.stem,
        title=title,
        transposition=transposition,
        lowest=lowest,
        highest=highest,
    )
    made = _built(table, model)
    made = replace(made, chart=_chart(table, made, _chart_of(model, made)))
    table.finish()
    return made


def _model(table: Table) -> Instrument:
    """What `like` names, else an instrument with nothing in it."""
    if "like" not in table:
        table.text("like", "")
        return Instrument("", "", 0, 0, 0)
    names = [path.stem for path in table.path.parent.glob("*.toml") if path != table.path]
    name = table.choice("like", sorted(names))
    path = table.path.with_name(f"{name}.toml")
    if "like" in read_toml(path):
        raise table.wrong("like", "an instrument that is not like another one itself")
    return read_instrument(path)


def _built(table: Table, model: Instrument) -> Instrument:
    """The model with the tubes, valves and what goes with them that the file has of its own."""
    slide = table.flag("slide", model.slide)
    valves = _valves(table) or model.valves
    tubes = _tubes(table) or model.tubes
    stopped_side = model.stopped_side
    if "stopped_side" in table:
        stopped_side = table.choice("stopped_side", [tube.side for tube in tubes])
    compensating = ("", *(valve.name for valve in valves))
    combinations = _combinations(table, model.combinations, slide, valves)
    return replace(
        model,
        tubes=tubes,
        valves=valves,
        combinations=combinations,
        compensating=table.choice("compensating", compensating, model.compensating),
        slide=slide,
        highest_partial=table.whole("highest_partial", 1, HIGHEST_PARTIAL, model.highest_partial),
        used_as=_used_as(table, combinations) or model.used_as,
        stopped_side=stopped_side,
        crooks=_wholes(table.table("crooks"), -36, 24) or model.crooks,
    )


def _tubes(table: Table) -> tuple[Tube, ...]:
    if "fundamental" in table:
        return (Tube("", _fundamental(table)),)
    sides = table.table("tubes")
    return tuple(_tube(sides.table(side), side) for side in sides.names())


def _tube(table: Table, side: str) -> Tube:
    tube = Tube(side, _fundamental(table), table.choice("lever", LEVERS, ""))
    table.finish()
    return tube


def _fundamental(table: Table) -> float:
    return table.number("fundamental", LOWEST_FUNDAMENTAL, HIGHEST_FUNDAMENTAL)


def _valves(table: Table) -> tuple[Valve, ...]:
    drops = _wholes(table.table("valves"), 1, _LARGEST_DROP)
    for name, _ in drops:
        if name not in _VALVES:
            raise table.wrong("valves", f"drops by valve: {', '.join(_VALVES)}")
    return tuple(Valve(name, semitones) for name, semitones in drops)


def _used_as(table: Table, combinations: Sequence[str]) -> tuple[tuple[str, int], ...]:
    used_as = _wholes(table.table("used_as"), 1, _LARGEST_DROP)
    if any(combination not in combinations for combination, _ in used_as):
        raise table.wrong("used_as", f"semitones by combination: {', '.join(combinations)}")
    return used_as


def _wholes(table: Table, low: int, high: int) -> tuple[tuple[str, int], ...]:
    """A table of whole numbers by name."""
    return tuple((name, table.whole(name, low, high)) for name in table.names())


def _combinations(
    table: Table, default: Sequence[str], slide: bool, valves: Sequence[Valve]
) -> tuple[str, ...]:
    """The list of combinations, each spelt as fingerings are."""
    combinations = table.texts("combinations", default)
    names = sorted(valve.name for valve in valves)
    spelt = "[1-7]" if slide else f"0|(?=.){''.join(f'{name}?' for name in names)}"
    form = re.compile(f"[{''.join(LEVERS)}]?(?:{spelt})")
    allowed = 'a position from "1" to "7"' if slide else f'"0" or valves in order of {names}'
    if "combinations" not in table:
        return tuple(filter(form.fullmatch, combinations))
    for place, combination in enumerate(combinations):
        if not form.fullmatch(combination):
            raise table.wrong_entry("combinations", place, allowed)
    return combinations


def _chart_of(model: Instrument, made: Instrument) -> dict[int, str]:
    """What holds of the model's chart, moved along where the only tube is another one."""
    moved = 0
    if len(made.tubes) == len(model.tubes) == 1:
        moved = round(made.tubes[0].fundamental - model.tubes[0].fundamental)
    chart = ((pitch + moved, fingering) for pitch, fingering in model.chart)
    return {pitch: fingering for pitch, fingering in chart if _gives(made, pitch, fingering)}


def _chart(
    table: Table, instrument: Instrument, chart: dict[int, str]
) -> tuple[tuple[int, str], ...]:
    """The chart by sounding pitch: what is known already, and over it what the file says."""
    written = table.table("chart")
    for name in written.names():
        fingering = written.text(name)
        try:
            pitch = sounding_of_written(midi_of_name(name), instrument.transposition)
        except ValueError:
            raise table.wrong("chart", f'by written notes such as "F#4", not {name!r}') from None
        if not _gives(instrument, pitch, fingering):
            can = ", ".join(c.fingering for c in candidates(instrument, pitch)) or "none does"
            raise written.wrong(name, f"a fingering that gives this note, in the range: {can}")
        chart[pitch] = fingering
    return tuple(sorted(chart.items()))


def _gives(instrument: Instrument, pitch: int, fingering: str) -> bool:
    can = (c.fingering for c in candidates(instrument, pitch))
    return instrument.reaches(pitch) and fingering in can
