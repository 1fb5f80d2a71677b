"""`coach goal`: the tempo at which a passage is to go, and by when."""

from __future__ import annotations

import argparse
import datetime
from typing import TYPE_CHECKING, Any

from coach.cli.options import FASTEST_BPM, SLOWEST_BPM, day_of, within
from coach.cli.record import add_player_option, own_book
from coach.cli.saying import print
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.book.practice import PracticeBook
    from coach.core.planning.goals import Goal

PLAN_IT = "Plan it: coach today"


def add(commands: Any) -> None:
    parser = commands.add_parser("goal", help="the tempo a passage is to reach, and by when")
    parser.add_argument("drill", nargs="?", metavar="DRILL", help="without it, all goals are shown")
    parser.add_argument("bpm", nargs="?", type=float, metavar="BPM", help="clicks a minute")
    parser.add_argument("--by", metavar="DATE", help="such as 2027-03-14")
    parser.add_argument("--instrument", metavar="NAME", help="(default: the one it was played on)")
    parser.add_argument("--drop", action="store_true", help="give the goal up")
    add_player_option(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    if args.drill is None:
        with own_book(args.player) as book:
            _show(book)
        return 0
    if (args.bpm is None) != args.drop:
        raise CoachError("a goal is a tempo", "goal", f"write: coach goal {args.drill} 132")
    within(args.bpm, "BPM", SLOWEST_BPM, FASTEST_BPM)
    due_day = None if args.by is None else day_of(args.by, "--by")
    with own_book(args.player, make=True) as book:
        if due_day is not None and due_day < book.today():
            raise CoachError(f"--by {args.by} is over", "", "give a day that comes")
        drill, instrument = _passage(book, args)
        if args.drop:
            _drop(book, drill, instrument)
        else:
            _set(book, drill, instrument, args.bpm, due_day)
    return 0


def _passage(book: PracticeBook, args: argparse.Namespace) -> tuple[str, str]:
    """Drill and instrument: as played last, else as the drill's file says."""
    from coach.files.configs import load_instrument
    from coach.files.drillshelf import load_drill

    if args.instrument:
        load_instrument(args.instrument)
    kept = book.latest(1, args.drill)
    if kept:
        return args.drill, args.instrument or kept[0].instrument
    goals = [goal for goal in book.diary.goals() if goal.drill == args.drill]
    if goals:
        return args.drill, args.instrument or goals[0].instrument
    try:
        drill, _ = load_drill(args.drill)
    except CoachError:
        what = f'"{args.drill}" is neither a drill nor was it ever played'
        hint = "see `coach drills`, and for what you have played `coach listen --list`"
        raise CoachError(what, "", hint) from None
    return drill.name, args.instrument or book.instrument() or drill.instrument


def _set(
    book: PracticeBook, drill: str, instrument: str, goal_bpm: float, due_day: int | None
) -> None:
    from coach.core.planning.goals import Goal

    goal = Goal(drill, instrument, goal_bpm, due_day)
    book.diary.set_goal(goal)
    print(f"{goal_words(goal)}\n{PLAN_IT}")


def _drop(book: PracticeBook, drill: str, instrument: str) -> None:
    if not book.diary.drop_goal(drill, instrument):
        raise CoachError(f"{drill} has no goal of yours", "", "see them all: coach goal")
    print(f"{drill}: no goal any more")


def _show(book: PracticeBook) -> None:
    goals = book.diary.goals()
    for goal in goals:
        print(goal_words(goal))
    print(PLAN_IT if goals else "No goals yet. Set one: coach goal DRILL 132 --by 2027-03-14")


def goal_words(goal: Goal) -> str:
    """ "turns is to go at 132 by 14 March 2027 (double horn)"."""
    by = "" if goal.due_day is None else f" by {_date(goal.due_day)}"
    instrument = goal.instrument.replace("-", " ")
    return f"{goal.drill} is to go at {goal.goal_bpm:g}{by} ({instrument})"


def _date(day: int) -> str:
    """ "14 March 2027"."""
    from coach.core.progress.dates import date_words

    return f"{date_words(day)} {datetime.date.fromordinal(day).year}"
