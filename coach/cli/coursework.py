"""Practising a course: one drill after the other, with the rests between them."""

from __future__ import annotations

import argparse
import contextlib
import sys
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from coach.cli.practice import Desk, OpenInput, desk
from coach.cli.saying import print
from coach.cli.wrapping import columns, in_rows
from coach.core.course import Course, CoursePart, length_s
from coach.core.instrument import Instrument
from coach.ending import STOPPED, logged_end
from coach.roles import Book
from coach.session import Session, Setup

if TYPE_CHECKING:
    from coach.book.practice import PracticeBook

ENDED = "the course is done"
PART_INDENT = " " * 5


def shown_or_practised(
    args: argparse.Namespace,
    stack: contextlib.ExitStack,
    course: Course,
    instrument: Instrument,
    book: PracticeBook,
) -> None:
    """Only told (`--show`), or practised, its takes kept in the book."""
    from coach.cli.keeping import Keeper
    from coach.cli.opening import opened

    if args.show:
        show(course)
        return
    source = opened(args, stack)
    _work_through(args, course, instrument, source, Keeper(book, instrument, source.taken))


def _work_through(
    args: argparse.Namespace, course: Course, instrument: Instrument, opened: OpenInput, book: Book
) -> None:
    """Practise every part.  Stopping a part goes on to the next one; stopping again in the rest
    before it ends the course."""
    from coach.files.configs import load_rules

    rules = load_rules(course.parts[0].drill.rules)
    done: list[Session] = []
    reason = ""
    try:
        with desk(args, rules, opened, book) as shared:
            play = partial(_parts, shared, course, instrument, done)
            reason = logged_end(play, shared.log)
    finally:
        _say_goodbye(course, done, reason)


def _parts(shared: Desk, course: Course, instrument: Instrument, done: list[Session]) -> str:
    """Run the parts; the reason why it ended."""
    rest_s, take = 0.0, 1
    for number, part in enumerate(course.parts, 1):
        session = shared.session(_setup(part, number, course, instrument, take, rest_s))
        done.append(session)
        shared.log(_part_start(part, number, course))
        ended = session.play()
        if shared.port.ended or (ended == STOPPED and not session.begun):
            return ended
        take, rest_s = session.next_take, part.rest_s
    return ENDED


def _setup(
    part: CoursePart,
    number: int,
    course: Course,
    instrument: Instrument,
    take: int,
    rest_s: float,
) -> Setup:
    from coach.files.configs import load_rules

    why = f"{number} of {len(course.parts)}. {part.why}"
    drill = replace(part.drill, cautions=(part.caution,) if part.caution else ())
    rules = load_rules(drill.rules)
    return Setup(drill, rules, instrument.transposition, part.takes, take, rest_s, why)


def _part_start(part: CoursePart, number: int, course: Course) -> dict[str, object]:
    return {
        "event": "part_start",
        "part": number,
        "parts": len(course.parts),
        "drill": part.drill.name,
        "why": part.why,
    }


def show(course: Course) -> None:
    """What the course is, part by part, with its minutes; a reason is given once."""
    width, told = columns(sys.stdout), set[str]()
    print(f"{course.title}:")
    for number, part in enumerate(course.parts, 1):
        takes = "" if part.takes is None else f", {part.takes} x"
        what = f"{part.drill.title}{takes}, {length_s(part) / 60:.1f} min: {_new(part.why, told)}"
        rows = in_rows(what, width, f"{number:>3}  ", PART_INDENT)
        if part.caution:
            rows += in_rows(part.caution, width, PART_INDENT, PART_INDENT)
        print("\n".join(rows))


def _new(why: str, told: set[str]) -> str:
    """What to do, and the reason behind the last colon if it was not `told` before."""
    what, colon, reason = why.rpartition(": ")
    known = bool(colon) and reason in told
    told.add(reason)
    return f"{what}." if known else why


def _say_goodbye(course: Course, done: Sequence[Session], reason: str) -> None:
    from coach.screen import show_course

    lines = [(session.setup.drill.title, session.view) for session in done]
    with contextlib.suppress(OSError):  # the terminal may be closed by now
        show_course(course.title, lines, reason=reason)
