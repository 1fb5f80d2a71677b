"""`coach review`: the week, where each passage stands, what got better, what to do."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.record import add_player_option, own_book, recorded
from coach.cli.reviewpage import PageMatter, add_page_options, write_page

if TYPE_CHECKING:
    from coach.core.profile.profile import Profile
    from coach.core.profile.weakest import Weakness
    from coach.core.review import Review

MOST_WEAK = 3


def add(commands: Any) -> None:
    parser = commands.add_parser("review", help="the week: ceilings, goals, what to do")
    parser.add_argument("--instrument", metavar="NAME", help="(default: the one played last)")
    add_player_option(parser)
    parser.add_argument("--json", type=Path, metavar="OUT", help="write it here as data")
    add_page_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.core.profile.profile import profile_of
    from coach.core.profile.weakest import weakest
    from coach.core.review import review_of

    if args.html is not None:
        from coach.files.output import check_free

        check_free(args.html, replace=args.replace)
    with own_book(args.player) as book:
        record = recorded(book, args.instrument)
        review = review_of(
            record.worked, record.today, record.known, record.goals, record.elsewhere
        )
        profile = profile_of(record.tallies, record.today)
        weak = weakest(profile, MOST_WEAK)
        advice = _advice(review, weak)
        if args.html is not None:
            write_page(args.html, PageMatter(book, record, review, profile, _words(weak), advice))
    if args.json is not None:
        from coach.cli.chosen import write_result

        told = {**review.to_dict(), "profile": profile.to_dict(), "weak": _words(weak)}
        costs = _move_costs(profile, record.instrument if record.takes else "")
        write_result(args.json, {**told, "move_costs": costs}, private=True)
    if args.html is None and args.json is None:
        _show(review, _words(weak), advice)
    return 0


def _show(review: Review, weak: Sequence[str], advice: str) -> None:
    from rich.console import Console

    from coach.screen.review import review_page

    Console(highlight=False).print(review_page(review, weak, advice))


def _words(weak: Sequence[Weakness]) -> list[str]:
    return [weakness.words for weakness in weak]


def _move_costs(profile: Profile, instrument: str) -> dict[str, Any]:
    """What each finger move costs the planner: assumed, told by the takes, and how much of it."""
    from coach.core.profile.costs import move_costs
    from coach.core.profile.tallies import move_name
    from coach.files.configs import load_instrument
    from coach.files.fingering import load_weights

    if not instrument:
        return {}
    costs = move_costs(profile, load_weights(), load_instrument(instrument))
    return {move_name(move): cost.to_dict() for move, cost in costs.items()}


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
