"""`coach today`: what to practise today, how long, and why."""

from __future__ import annotations

import argparse
import datetime
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.review import instrument_rows, known_drills
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.core.planning import DayPlan


def add(commands: Any) -> None:
    parser = commands.add_parser("today", help="what to practise today, how long, and why")
    parser.add_argument("--minutes", type=float, default=40, metavar="M", help="by the clock (40)")
    parser.add_argument("--concert", metavar="DATE", help="when it must go, such as 2027-03-14")
    parser.add_argument("--instrument", metavar="NAME", help="else the one played last")
    parser.add_argument("--json", type=Path, metavar="OUT", help="write the plan here")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.core.planning import plan_today
    from coach.core.planning.worked import loads_of, worked_of
    from coach.files.planning import load_planning
    from coach.ports.clock import day_number

    today, concert = day_number(), _day(args.concert)
    rows, everything = instrument_rows(args.instrument)
    passages = worked_of(rows, known_drills(rows), today)
    settings = load_planning()
    try:
        plan = plan_today(passages, today, args.minutes, concert, settings, loads_of(everything))
    except ValueError as error:
        raise CoachError(str(error), "coach today") from None
    if args.json is not None:
        from coach.cli.chosen import write_result

        write_result(args.json, plan.to_dict())
    else:
        print("\n".join(_lines(plan)))
    return 0


def _day(text: str | None) -> int | None:
    if text is None:
        return None
    try:
        return datetime.date.fromisoformat(text).toordinal()
    except ValueError:
        hint = "write year-month-day, such as 2027-03-14"
        raise CoachError(f'--concert "{text}" is no date', "", hint) from None


def _lines(plan: DayPlan) -> Sequence[str]:
    lines = [plan.why]
    if plan.warning:
        lines.append(plan.warning)
    for number, block in enumerate(plan.blocks, 1):
        lines.append(f"{number:>3}  {block.minutes:>2} min  {block.title}: {block.what}")
        lines.append(f"             {_command(block)}")
    return lines


def _command(block: Any) -> str:
    """How to begin the block, to be typed as it stands."""
    return f"coach drill {block.name} --from {block.from_bpm:.0f} --to {block.aim_bpm:.0f}"
