"""`coach played`: minutes that the coach did not hear, so that the day's load is right."""

from __future__ import annotations

import argparse
import datetime
from typing import Any

from coach.cli.options import day_of, within
from coach.cli.record import add_player_option, own_book
from coach.cli.saying import print
from coach.errors import CoachError

MOST_MINUTES = 720
WHAT = ("practice", "rehearsal", "concert", "lesson")


def add(commands: Any) -> None:
    parser = commands.add_parser("played", help="tell of playing the coach did not hear")
    parser.add_argument("minutes", type=float, metavar="MINUTES", help="at the lips, about")
    parser.add_argument("--what", default="practice", help=", ".join(WHAT))
    parser.add_argument("--on", metavar="DATE", help="(default: today)")
    add_player_option(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    within(args.minutes, "MINUTES", 1, MOST_MINUTES)
    if args.what not in WHAT:
        raise CoachError(f"--what {args.what} is unknown", "", f"use {', '.join(WHAT)}")
    day = None if args.on is None else day_of(args.on, "--on")
    with own_book(args.player, make=True) as book:
        today = book.today()
        day = today if day is None else day
        if day > today:
            raise CoachError(f"--on {args.on} is still to come", "", "give a day that was")
        book.diary.add_elsewhere(day, args.minutes, args.what)
        total = sum(load.minutes for load in book.diary.elsewhere(day) if load.day == day)
    when = "today" if day == today else f"on {datetime.date.fromordinal(day)}"
    print(f"{args.minutes:g} minutes of {args.what}; {total:g} away from the coach {when}")
    return 0
