"""`coach today`: what to practise today, how long, and why."""

from __future__ import annotations

import argparse
import contextlib
import sys
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.options import day_of
from coach.cli.record import add_player_option, own_book, recorded
from coach.cli.saying import print
from coach.cli.typed import typed
from coach.cli.wrapping import columns, in_rows
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.cli.record import Record
    from coach.core.planning import Block, DayPlan

MINUTES = 40


def add(commands: Any) -> None:
    parser = commands.add_parser("today", help="what to practise today, how long, and why")
    parser.add_argument(
        "--minutes",
        type=float,
        default=MINUTES,
        metavar="M",
        help=f"by the clock (default: {MINUTES})",
    )
    parser.add_argument("--concert", metavar="DATE", help="its day, remembered; none takes it off")
    parser.add_argument("--instrument", metavar="NAME", help="(default: the one played last)")
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
        print("\n".join(_lines(plan, columns(sys.stdout))))
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


def _lines(plan: DayPlan, width: int | None) -> Iterator[str]:
    """The plan in rows of at most `width` letters (None: a sentence a row)."""
    for sentence in filter(None, (plan.why, plan.warning)):
        yield from in_rows(sentence, width)
    place, seen = 1, set[str]()
    for turns in _folded(plan.blocks):
        last = place + len(turns) - 1
        number = f"{place}" if last == place else f"{place}-{last}"
        start = f"{number:>4}  {sum(turn.minutes for turn in turns):>2} min  "
        indent = " " * len(start)
        yield from in_rows(_turn_words(turns), width, start, indent)
        for block in {turn.name: turn for turn in turns}.values():
            again = block.name in seen and block.kind in ("learn", "build")
            yield indent + drill_command(asdict(block), again=again)
        place = last + 1
        seen.add(turns[0].name)


def _folded(blocks: Sequence[Block]) -> Iterator[list[Block]]:
    """One by one while passages come for the first time; turns that only go on, in one."""
    firsts = {block.name: place for place, block in reversed(list(enumerate(blocks)))}
    again = [firsts[block.name] < place for place, block in enumerate(blocks)]
    for only_on, turns in groupby(zip(again, blocks, strict=True), lambda pair: pair[0]):
        found = [block for _, block in turns]
        yield from [found] if only_on else [[block] for block in found]


def _turn_words(turns: Sequence[Block]) -> str:
    if len(turns) == 1:
        return f"{turns[0].title}: {turns[0].what}"
    counts = Counter(turn.title for turn in turns)
    if len(counts) == 1:
        return f"{turns[0].title}: then {_times(len(turns))} more, from where the last turn ended."
    often = set(counts.values())
    more = f"{_times(often.pop())} more" if len(often) == 1 else f"{len(turns)} more turns"
    return f"Then by turns, {more}, each from where its last turn ended: {', '.join(counts)}."


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def drill_command(block: Mapping[str, Any], *, again: bool = False) -> str:
    """How to begin a block of the plan, to be typed as it stands; `again`: where the last turn
    ended, which the coach knows."""
    start = () if again else ("--from", f"{block['from_bpm']:.0f}")
    return typed("coach", "drill", block["name"], *start, "--to", f"{block['aim_bpm']:.0f}")
