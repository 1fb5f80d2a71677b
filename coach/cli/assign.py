"""`coach assign`: what a teacher sets, as a file for the student."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.goal import goal_words
from coach.cli.loading import add_score_options, choice_of, loaded
from coach.cli.options import FASTEST_BPM, SLOWEST_BPM, day_of, within
from coach.cli.record import own_book
from coach.cli.saying import print
from coach.cli.sharing import check_target, header
from coach.core.share.days import date_of
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.book.practice import PracticeBook


def add(commands: Any) -> None:
    parser = commands.add_parser(
        "assign",
        help="set drills for a student, as a file",
        description="Write drills, the tempi they are to reach, and a day to a file.  The student"
        " takes it in with coach import, and sends back what coach return writes.",
    )
    parser.add_argument("file", type=Path, metavar="FILE", help=".jsonl")
    parser.add_argument(
        "drills", nargs="+", metavar="DRILL[=BPM]", help="a name, drill file or score; its tempo"
    )
    parser.add_argument("--by", metavar="DATE", help="such as 2027-03-14")
    parser.add_argument("--title", default="", metavar="TEXT", help="what it is called")
    parser.add_argument("--words", default="", metavar="TEXT", help="what you say about it")
    parser.add_argument("--teacher", default="", metavar="NAME", help="who sets it")
    parser.add_argument("--instrument", metavar="NAME", help="what the student plays")
    parser.add_argument("--replace", action="store_true", help="write over a file that is there")
    add_score_options(parser)
    parser.set_defaults(run=run)


@dataclass(frozen=True, slots=True)
class _Set:
    """A drill as it is set."""

    name: str
    text: str
    instrument: str
    goal_bpm: float


def run(args: argparse.Namespace) -> int:
    from coach.core.planning.goals import Goal
    from coach.files.share.lines import write_records

    check_target(args.file, (".jsonl",), replace=args.replace)
    due_day = None if args.by is None else day_of(args.by, "--by")
    with own_book(make=True) as book:
        if due_day is not None and due_day < book.today():
            raise CoachError(f"--by {args.by} is over", "", "give a day that comes")
        drills = [_set(args, word, book.instrument()) for word in args.drills]
        _check_once(drills)
        left_out = write_records(args.file, _records(args, book, drills, due_day))
    if left_out:
        args.file.unlink(missing_ok=True)
        raise CoachError(left_out[0], str(args.file), "leave that drill out, or mend its file")
    print(f"Written: {args.file}")
    for one in drills:
        print(f"  {goal_words(Goal(one.name, one.instrument, one.goal_bpm, due_day))}")
    print(f"The student takes it in with: coach import {args.file.name}")
    return 0


def _set(args: argparse.Namespace, word: str, instrument: str | None) -> _Set:
    """CoachError if it is no drill, or none that can be sent."""
    from coach.files.drillwrite import is_drill_name

    source, goal_bpm = _parted(word)
    drill, player = loaded(args, source, args.instrument or instrument)
    text = _text(args, source, drill, player)
    if not is_drill_name(drill.name):
        hint = "rename its file: small letters, digits and hyphens"
        raise CoachError(f'"{drill.name}" is no name for a drill file', source, hint)
    within(goal_bpm, f"the tempo of {drill.name}", SLOWEST_BPM, FASTEST_BPM)
    return _Set(drill.name, text, player.name, goal_bpm or drill.to_bpm)


def _parted(word: str) -> tuple[str, float | None]:
    """Drill and tempo of "turns=132"; paths may hold "=" as well."""
    from coach.files.drillshelf import is_drill

    source, _, tempo = word.rpartition("=")
    if not source:
        return word, None
    try:
        return source, float(tempo)
    except ValueError:
        if is_drill(source) and not is_drill(word):
            hint = f"write e.g. {source}=112"
            raise CoachError(f'"{tempo}" is no tempo', word, hint) from None
        return word, None


def _text(args: argparse.Namespace, source: str, drill: Any, player: Any) -> str:
    """The drill file as it stands; for what is chosen out of one, or of a score, a new one."""
    from coach.cli.writing import text_of_drill
    from coach.core.score.choose import Choice
    from coach.files.drillshelf import find_drill
    from coach.files.scorefile import is_score

    if not is_score(source) and choice_of(args) == Choice():
        return find_drill(source).read_text("utf-8-sig")
    try:
        return text_of_drill(drill, player)
    except ValueError as error:
        raise CoachError(f"it can't be written: {error}", source, "choose other bars") from None


def _check_once(drills: list[_Set]) -> None:
    names = [one.name for one in drills]
    for name in names:
        if names.count(name) > 1:
            raise CoachError(f"{name} is set twice", "coach assign", "name it once")


def _records(
    args: argparse.Namespace, book: PracticeBook, drills: list[_Set], due_day: int | None
) -> Iterator[dict[str, Any]]:
    from uuid import uuid4

    yield header(book.moment().utc, "assignment", None, None)
    for one in drills:
        yield {"record": "drill", "name": one.name, "text": one.text}
    due = date_of(due_day)
    yield {
        "record": "assignment",
        "uid": uuid4().hex,
        "title": args.title or ", ".join(one.name for one in drills)[:200],
        "teacher": args.teacher,
        "words": args.words,
        "due": due,
        "received_utc": None,
        "goals": [
            {
                "drill": one.name,
                "instrument": one.instrument,
                "goal_bpm": one.goal_bpm,
                "due": due,
            }
            for one in drills
        ],
    }
