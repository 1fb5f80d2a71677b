"""What a teacher set, received: drills in place, goals with their day."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from typing import Any

from coach.cli.goal import goal_words
from coach.cli.importing import Placed, drill_lines, known, with_drills
from coach.cli.record import own_book
from coach.core.assignment import Assignment
from coach.core.planning.goals import Goal
from coach.core.share.days import due_day_of
from coach.errors import CoachError, FileError
from coach.files.share.drills import ArrivingDrills

_ALLOWED = ("assignment", "drill")


def receive(args: argparse.Namespace, records: Iterator[Placed]) -> list[str]:
    """Take the assignment in for who plays (or --player), once; what there is to say about it."""
    if args.called is not None:
        hint = "--player NAME gives it to somebody else than who plays"
        raise CoachError("an assignment is of no player", "--as", hint)
    drills = ArrivingDrills()
    assignment = _read(args, known(with_drills(records, drills)), drills)
    with own_book(args.player, make=True) as book:
        if any(one.uid == assignment.uid for one in book.diary.assignments()):
            return [f'{book.player} has "{assignment.title}" already; nothing is changed.']
        # Goals whose drills are not there would be worse than drills that are no goals.
        drills.write()
        book.diary.add_assignment(assignment)
        return [*_lines(assignment, drills, book.player)]


def _read(
    args: argparse.Namespace, records: Iterator[Placed], drills: ArrivingDrills
) -> Assignment:
    """The one assignment of the file, its goals under the names that its drills have here."""
    found: Assignment | None = None
    for where, record in records:
        kind = record["record"]
        if kind not in _ALLOWED or (kind == "assignment" and found is not None):
            raise FileError(f"an assignment holds no {kind} here", where, "ask for it again")
        try:
            if kind == "assignment":
                found = _assignment(record, drills)
        except ValueError as error:
            what = f"this {kind} can't be taken in ({error})"
            raise FileError(what, where, "ask for it again") from None
    if found is None or not found.goals:
        raise FileError("nothing is set in this file", str(args.file), "ask for it again")
    return found


def _assignment(record: dict[str, Any], drills: ArrivingDrills) -> Assignment:
    return Assignment(
        record["uid"],
        record["title"],
        record["teacher"],
        record["words"],
        due_day_of(record["due"]),
        tuple(_goal(goal, drills) for goal in record["goals"]),
    )


def _goal(told: dict[str, Any], drills: ArrivingDrills) -> Goal:
    name = told["drill"]
    if name not in drills.names:
        raise ValueError("a drill of it is not there: it has to stand before it")
    due_day = due_day_of(told["due"])
    return Goal(drills.names[name], told["instrument"], told["goal_bpm"], due_day)


def _lines(assignment: Assignment, drills: ArrivingDrills, player: str) -> Iterator[str]:
    by = f" from {assignment.teacher}" if assignment.teacher else ""
    yield f"{assignment.title}{by}, for {player}"
    if assignment.words:
        yield assignment.words
    for goal in assignment.goals:
        yield f"  {goal_words(goal)}"
    yield from drill_lines(drills)
    yield "Begin with: coach today"
