"""`coach review`: the week, where each passage stands, what got better, what to do."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.reviewpage import Known, add_page_options, check_page, write_page
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.core.profile.profile import Profile
    from coach.core.profile.weakest import Weakness
    from coach.core.review import Review

MOST_WEAK = 3
# Older takes weigh next to nothing (the profile's half-life is 30 days).
LOOKED_AT_DAYS = 120
# What a day's kind of work makes of a drill is kept under the drill's name and one of these.
COURSES = ("warmup", "-build")


def add(commands: Any) -> None:
    parser = commands.add_parser("review", help="the week: ceilings, goals, what to do")
    parser.add_argument("--instrument", metavar="NAME", help="else the one played last")
    parser.add_argument("--json", type=Path, metavar="OUT", help="write it here as data")
    add_page_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.core.profile.profile import profile_of
    from coach.core.profile.weakest import weakest
    from coach.core.review import review_of
    from coach.ports.clock import day_number

    if args.html is not None:
        check_page(args)
    today = day_number()
    rows, everything = instrument_rows(args.instrument)
    review = review_of(rows, today, known_drills(rows))
    profile = profile_of(_tallies(args.instrument), today)
    weak = weakest(profile, MOST_WEAK)
    if args.json is not None:
        from coach.cli.chosen import write_result

        told = {**review.to_dict(), "profile": profile.to_dict(), "weak": [w.words for w in weak]}
        write_result(args.json, {**told, "move_costs": _move_costs(profile, rows)})
        return 0
    advice = _advice(review, weak)
    if args.html is not None:
        with _book(args.instrument) as book:
            known = Known(book, review, profile, [w.words for w in weak], advice, rows, everything)
            write_page(args.html, known)
        return 0
    from rich.console import Console

    from coach.screen.review import review_page

    page = review_page(review, [w.words for w in weak], advice)
    Console(highlight=False).print(page)
    return 0


def _move_costs(profile: Profile, rows: Sequence[Any]) -> dict[str, Any]:
    """What each finger move costs the planner: assumed, told by the takes, and how much of it."""
    from coach.core.profile.costs import move_costs
    from coach.core.profile.tallies import move_name
    from coach.files.configs import load_instrument
    from coach.files.fingering import load_weights

    if not rows:
        return {}
    costs = move_costs(profile, load_weights(), load_instrument(rows[-1].instrument))
    return {move_name(move): cost.to_dict() for move, cost in costs.items()}


def instrument_rows(instrument: str | None) -> tuple[list[Any], list[Any]]:
    """The takes of one instrument (None: the one played last), oldest first: of passages worked at,
    and all of them, courses with them."""
    with _book(instrument) as book:
        rows = book.take_rows(book.today() - LOOKED_AT_DAYS)
    mine = [row for row in rows if row.instrument == (instrument or rows[-1].instrument)]
    return [row for row in mine if not _of_course(row.drill)], mine


def _tallies(instrument: str | None) -> list[Any]:
    with _book(instrument) as book:
        since = book.today() - LOOKED_AT_DAYS
        rows = book.take_rows(since)
        name = instrument or (rows[-1].instrument if rows else "")
        return list(book.tallies(name, since))


def _book(instrument: str | None) -> Any:
    """The practice book; CoachError if nothing was played yet."""
    from coach.book.practice import PracticeBook
    from coach.files.configs import load_instrument, own_folder

    if instrument is not None:
        load_instrument(instrument)
    path = own_folder() / "practice.sqlite"
    if not path.exists():
        raise CoachError("nothing was played yet", "", "begin with: coach warmup")
    return PracticeBook(path)


def _of_course(drill: str) -> bool:
    return drill.startswith(COURSES[0]) or drill.endswith(COURSES[1])


def known_drills(rows: Sequence[Any]) -> dict[str, tuple[str, float]]:
    """Titles and goals of the drills whose files are there."""
    from coach.files.drillfile import load_drill

    found = {}
    for name in {row.drill for row in rows}:
        try:
            drill, _ = load_drill(name)
        except CoachError:
            continue
        found[name] = (drill.title, drill.to_bpm)
    return found


def _advice(review: Review, weak: Sequence[Weakness]) -> str:
    """One sentence: what is furthest from its goal, or else what is weakest."""
    behind = [p for p in review.passages if p.goal_bpm and p.ceiling_bpm < p.goal_bpm]
    if behind:
        far = max(behind, key=lambda p: (p.goal_bpm or 0) / p.ceiling_bpm)
        command = f"coach build {far.drill} --to {far.goal_bpm:g}"
        return f"{far.title} is furthest from its goal: {command}"
    if weak:
        return f"Your weakest spot: {weak[0].words}. coach next makes the drill for it."
    return "Everything goes at its goal: choose something new, or a higher goal."
