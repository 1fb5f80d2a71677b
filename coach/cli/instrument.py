"""`coach instrument`: the fingering chart of an instrument, from its tubes and valves."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from coach.cli.saying import print
from coach.cli.slides import add_slide_options, changed
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.core.instrument import Instrument
    from coach.screen.fingerchart import ChartRow


def add(commands: Any) -> None:
    parser = commands.add_parser(
        "instrument", help="every note of an instrument and its fingerings"
    )
    parser.add_argument("name", nargs="?", metavar="NAME", help="without it, all are listed")
    add_slide_options(parser)
    parser.add_argument("--stopped", action="store_true", help="the hand stops the horn")
    names = parser.add_mutually_exclusive_group()
    names.add_argument("--written", action="store_true", help="only the written names")
    names.add_argument("--sounding", action="store_true", help="only the sounding names")
    parser.add_argument("--json", action="store_true", help="the chart as JSON")
    parser.add_argument("--plain", action="store_true", help="lines of text, for pipes")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.files.configs import load_instrument

    if args.name is None:
        if args.json:
            hint = "write: coach instrument double-horn --json"
            raise CoachError("no instrument is named", "instrument", hint)
        print("\n".join(_listed()))
        return 0
    instrument = changed(load_instrument(args.name), args)
    if args.stopped and instrument.stopped_side is None:
        what = f"the {instrument.title} can't be stopped"
        raise CoachError(what, "--stopped", "leave it out, or name a horn with an F side")
    rows = _rows(instrument, args.stopped)
    if args.json:
        print(json.dumps(_as_json(instrument, rows)))
    else:
        _show(args, _title(instrument, args), rows)
    return 0


def _listed() -> Sequence[str]:
    """All of them, and what they are."""
    from coach.files.configs import instrument_names, load_instrument

    names = instrument_names()
    across = max(map(len, names)) + 2
    rows = [f"  {name:<{across}}{load_instrument(name).title}" for name in names]
    return [*rows, "The chart of one: coach instrument NAME"]


def _rows(instrument: Instrument, stopped: bool) -> list[ChartRow]:
    from coach.core.fingering.candidates import candidates, chart_fingering
    from coach.core.pitch import written_of_sounding
    from coach.screen.fingerchart import ChartRow

    rows = []
    for pitch in range(instrument.lowest, instrument.highest + 1):
        found = candidates(instrument, pitch, stopped=stopped)
        usual = chart_fingering(instrument, pitch, stopped=stopped)
        usual_first = sorted(found, key=lambda c: c.fingering != usual)
        written = written_of_sounding(pitch, instrument.transposition)
        rows.append(ChartRow(written, pitch, tuple(usual_first)))
    return rows


def _title(instrument: Instrument, args: argparse.Namespace) -> str:
    parts = [instrument.title]
    if args.crook:
        parts.append(f"{args.crook} crook")
    parts += [f"{entry.replace('=', ' side tuned to ')}" for entry in args.tuned]
    return ", ".join([*parts, "stopped"] if args.stopped else parts)


def _show(args: argparse.Namespace, title: str, rows: Sequence[ChartRow]) -> None:
    from rich.console import Console

    from coach.screen.fingerchart import chart_lines, chart_table

    written, sounding = not args.sounding, not args.written
    if args.plain:
        for line in chart_lines(title, rows, written=written, sounding=sounding):
            print(line)
    else:
        Console().print(chart_table(title, rows, written=written, sounding=sounding))


def _as_json(instrument: Instrument, rows: Sequence[ChartRow]) -> dict[str, Any]:
    """The chart as plain data; cents, drop and length (semitones) to three places."""
    from coach.screen.fingerchart import note_name

    notes = [
        {
            "written": note_name(row.written),
            "sounding": note_name(row.sounding),
            "midi": row.sounding,
            "fingerings": [_rounded(asdict(candidate)) for candidate in row.found],
        }
        for row in rows
    ]
    tuned = {tube.side: tube.fundamental for tube in instrument.tubes}
    return {"instrument": instrument.name, "fundamentals": tuned, "notes": notes}


def _rounded(values: dict[str, Any]) -> dict[str, Any]:
    # + 0.0: no "-0.0".
    return {k: round(v, 3) + 0.0 if isinstance(v, float) else v for k, v in values.items()}
