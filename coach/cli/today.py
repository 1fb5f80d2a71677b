"""`coach today`: what to practise today, how long, and why."""

from __future__ import annotations

import argparse
import contextlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.options import day_of
from coach.cli.record import add_player_option, own_book, recorded
from coach.cli.saying import print
from coach.cli.typed import typed
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.cli.record import Record
    from coach.core.planning import DayPlan

MINUTES = 40


def add(commands: Any) -> None:
    parser = commands.add_parser("today", help="what to practise today, how long, and why")
    parser.add_argument(
        "--minutes", type=float, default=MINUTES, metavar="M", help=f"by the clock ({MINUTES})"
    )
    parser.add_argument("--concert", metavar="DATE", help="remembered; none: there is none")
    parser.add_argument("--instrument", metavar="NAME", help="else the one played last")
    add_player_option(parser)
    parser.add_argument("--json", type=Path, metavar="OUT", help="write the plan here")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    with own_book(args.player) as book:
        record = recorded(book, args.instrument)
        concert = record.concert_day if args.concert is None else _day(args.concert)
        plan = plan_of(record, args.minutes, concert)
        names = list(dict.fromkeys(block.name for block in plan.blocks))
        # A plan that can't be kept is a plan all the same; the book says why when takes come.
        with contextlib.suppress(CoachError):
            book.diary.keep_plan(record.instrument, concert, names, plan.to_dict())
    if args.json is not None:
        from coach.cli.chosen import write_result

        write_result(args.json, plan.to_dict(), private=True)
    else:
        print("\n".join(_lines(plan)))
    return 0


def plan_of(record: Record, minutes: float, concert_day: int | None) -> DayPlan:
    """Today's; CoachError where a figure makes no sense."""
    from coach.core.planning import plan_today
    from coach.core.planning.worked import loads_of, worked_of
    from coach.files.planning import load_planning

    passages = worked_of(record.takes, record.known, record.today, record.goals)
    loads = loads_of(record.takes, record.elsewhere)
    settings, planned = load_planning(), record.planned
    try:
        return plan_today(passages, record.today, minutes, concert_day, settings, loads, planned)
    except ValueError as error:
        raise CoachError(str(error), "today", "see coach today --help") from None


def _day(text: str) -> int | None:
    return None if text == "none" else day_of(text, "--concert")


def _lines(plan: DayPlan) -> Sequence[str]:
    lines = [plan.why]
    if plan.warning:
        lines.append(plan.warning)
    for number, block in enumerate(plan.blocks, 1):
        lines.append(f"{number:>3}  {block.minutes:>2} min  {block.title}: {block.what}")
        lines.append(f"             {drill_command(asdict(block))}")
    return lines


def drill_command(block: Mapping[str, Any]) -> str:
    """How to begin a block of the plan, to be typed as it stands."""
    tempi = "--from", f"{block['from_bpm']:.0f}", "--to", f"{block['aim_bpm']:.0f}"
    return typed("coach", "drill", block["name"], *tempi)
