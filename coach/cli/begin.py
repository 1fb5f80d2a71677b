"""`coach` alone: the way to the first drill for who never played here, else what today asks."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from coach.cli.record import LOOKED_AT_DAYS, book_path, no_book, of_course, own_book, recorded
from coach.cli.saying import print
from coach.cli.today import MINUTES, drill_command, plan_of

if TYPE_CHECKING:
    from coach.book.practice import PracticeBook
    from coach.book.rows import TakeRow

# Of more passages the plan takes longer to make than `coach` alone should.
MOST_PASSAGES = 6
# So many letters must be left for what a command is for, or it stands below.
LEAST_BESIDE = 24
WIDEST = 100
NOT_YET = "Nothing has been played yet."
NOT_LATELY = "Nothing has been played lately."
DONE = "All of today's passages had their turn. More: coach today. How it goes: coach review."
WORDS = "All commands, and what the words mean: coach help"
_NUMBER = (int, float)
_BLOCK: dict[str, Any] = {
    "name": str,
    "title": str,
    "minutes": _NUMBER,
    "from_bpm": _NUMBER,
    "aim_bpm": _NUMBER,
}
# What to type, and what for.
Line = tuple[str, str]
# What is said first, the lines, what is said last.
Told = tuple[str, list[Line], str]


def run() -> int:
    """Print it; nothing is written down."""
    head, lines, foot = _told()
    width = min(shutil.get_terminal_size().columns, WIDEST)
    print("\n".join(laid_out(head, lines, foot, width)))
    return 0


def laid_out(head: str, lines: Sequence[Line], foot: str, width: int) -> list[str]:
    """In rows of at most `width` letters; what to type is never broken."""
    across = 7 + max((len(typed) for typed, _ in lines), default=0)
    beside = across + LEAST_BESIDE <= width
    rows = textwrap.wrap(head, width)
    for number, (typed, what) in enumerate(lines, 1):
        first = f"  {number}  {typed}"
        if not beside:
            rows.append(first)
        indent = " " * (across if beside else 5)
        start = f"{first:<{across}}" if beside else indent
        rows += textwrap.wrap(what, width, initial_indent=start, subsequent_indent=indent)
    return rows + textwrap.wrap(foot, width)


def _told() -> Told:
    if not book_path().exists():
        return _for_newcomer(no_book())
    with own_book() as book:
        rows = book.take_rows(book.today() - LOOKED_AT_DAYS)
        if rows:
            return _for_player(book, rows)
        return _for_newcomer(NOT_LATELY if book.latest(1) else NOT_YET)


def _for_newcomer(why: str) -> Told:
    from coach.files.calibration import any_round_trip

    checked = "done; again when something changes" if any_round_trip() else "once"
    return (
        f"{why} Three steps to a drill:",
        [
            ("coach demo", "watch the whole job: a simulated player, no microphone needed"),
            ("coach check", f"measure microphone, room and delay ({checked})"),
            ("coach warmup", "play; or, for a first try: coach drill scales-one-octave"),
        ],
        WORDS,
    )


def _for_player(book: PracticeBook, rows: Sequence[TakeRow]) -> Told:
    plan = _plan(book, rows)
    today = [row.drill for row in rows if row.day == book.today()]
    lines = [] if today else [("coach warmup", "nothing has been played today: warm up first")]
    block = _next_block(plan, today)
    if block is None and plan.get("blocks"):
        return DONE, [], WORDS
    if block is not None:
        lines.append((drill_command(block), f"{block['title']}, {block['minutes']} min"))
    lines.append(("coach today", "the plan of the day, and why"))
    return _head(plan), lines, f"How it goes: coach review. {WORDS}"


def _plan(book: PracticeBook, rows: Sequence[TakeRow]) -> dict[str, Any]:
    """The plan that was made today, else one made now; empty where that would take too long."""
    made = book.diary.plan(rows[-1].instrument)
    if made is not None and _is_whole(made):
        return made
    if len({row.drill for row in rows if not of_course(row.drill)}) > MOST_PASSAGES:
        return {}
    record = recorded(book, None)
    return plan_of(record, MINUTES, record.concert_day).to_dict()


def _is_whole(plan: Mapping[str, Any]) -> bool:
    """Whether all is in it that is told here: it may have come from another coach."""
    blocks = plan.get("blocks")
    return (
        isinstance(plan.get("why"), str)
        and isinstance(plan.get("minutes"), int | float)
        and isinstance(blocks, list)
        and all(isinstance(block, dict) for block in blocks)
        and all(isinstance(block.get(key), _BLOCK[key]) for block in blocks for key in _BLOCK)
    )


def _next_block(plan: dict[str, Any], played: Sequence[str]) -> dict[str, Any] | None:
    """The first whose passage was not played today."""
    return next((one for one in plan.get("blocks", ()) if one["name"] not in played), None)


def _head(plan: dict[str, Any]) -> str:
    if not plan:
        return "Many passages are under way."
    if not plan["blocks"]:
        return str(plan["why"])
    count = len({block["name"] for block in plan["blocks"]})
    return f"Today: {count} passage{'s' * (count > 1)}, {plan['minutes']} minutes."
