"""`coach trial`: which of two ways of playing a passage really comes out cleaner."""

from __future__ import annotations

import argparse
import contextlib
import math
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Any

from coach.cli.carried import MOST_PLANS, fingered, tongued
from coach.cli.chosen import write_result
from coach.cli.loading import add_score_options, loaded
from coach.cli.options import (
    FASTEST_BPM,
    SLOWEST_BPM,
    add_drill_options,
    add_input_options,
    changed_drill,
    within,
)
from coach.cli.saying import print
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.core.exercise import Drill
    from coach.core.instrument import Instrument
    from coach.core.passage import Passage

WAYS_FORM = "fingering=2, side=F, tonguing=double or drill=NAME"
LEAST_LENGTH = 0.75


def add(commands: Any) -> None:
    parser = commands.add_parser("trial", help="try two ways of playing it: which is cleaner?")
    parser.add_argument("drill", metavar="NAME_OR_FILE", help="see `coach drills`; or a score")
    parser.add_argument(
        "--a", required=True, metavar="WAY", help=f"how you play it now: {WAYS_FORM}"
    )
    parser.add_argument("--b", required=True, metavar="WAY", help="the other way, likewise")
    parser.add_argument(
        "--variant", type=int, default=1, metavar="N", help="of the drill (default: 1)"
    )
    parser.add_argument(
        "--at", type=float, metavar="BPM", help="where to begin (between the drill's tempi)"
    )
    parser.add_argument("--instrument", metavar="NAME", help="(default: the drill's own)")
    parser.add_argument("--json", type=Path, metavar="OUT", help="write the result here")
    add_score_options(parser)
    add_input_options(parser)
    add_drill_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.cli.keeping import Keeper, practice_book
    from coach.cli.opening import opened
    from coach.cli.practice import check_session, practise
    from coach.core.trial.guide import TrialGuide
    from coach.core.trial.trial import begin
    from coach.files.trial import load_settings

    check_session(args)
    drill, instrument = loaded(args, args.drill, args.instrument)
    drill = changed_drill(drill, args)
    a, b = (_way(getattr(args, k), drill, instrument, args, k) for k in ("a", "b"))
    _check_differ(a, b)
    settings = load_settings()
    notes = _notes(a, b)
    seed = args.seed if args.seed is not None else Random().randrange(2**32)
    trial = begin(settings, notes, _first_bpm(drill, args.at), seed)
    guide = TrialGuide(trial, {"a": a, "b": b}, instrument.transposition, drill.click)
    named = replace(drill, title=f"{drill.title}: a trial", variants=(a, b))
    with contextlib.ExitStack() as stack:
        book = stack.enter_context(practice_book("trial"))
        source = opened(args, stack)
        practise(args, named, instrument, source, Keeper(book, instrument, source.taken), guide)
    _tell(guide, a, b, args)
    return 0


def _check_differ(a: Passage, b: Passage) -> None:
    """Two plans or sides may come to the same fingers."""
    if replace(a, title="") == replace(b, title=""):
        what = "--a and --b are the same way: notes, fingers and syllables are alike"
        raise CoachError(what, "", "give two that differ")


def _notes(a: Passage, b: Passage) -> int:
    """The notes of a take; CoachError where the two can't be held against each other."""
    shorter, longer = sorted((len(a.notes), len(b.notes)))
    if shorter < longer * LEAST_LENGTH:
        what = f"--a has {len(a.notes)} notes and --b has {len(b.notes)}"
        raise CoachError(what, "", "try two of about the same length")
    return longer


def _first_bpm(drill: Drill, at: float | None) -> float:
    """In the middle between the drill's tempi, as musicians count: by shares."""
    middle = math.sqrt(drill.from_bpm * drill.to_bpm)
    return float(within(at, "--at", SLOWEST_BPM, FASTEST_BPM) or round(middle, 1))


def _way(
    text: str, drill: Drill, instrument: Instrument, args: argparse.Namespace, name: str
) -> Passage:
    """The passage played that way, its title naming the way."""
    kind, _, value = text.partition("=")
    makers = {"fingering": _planned, "side": _on_side, "tonguing": _styled, "drill": _other}
    if kind not in makers or not value:
        raise CoachError(f"--{name} {text} is no way to play it", "", f"give {WAYS_FORM}")
    if not 1 <= args.variant <= len(drill.variants):
        what = f"--variant {args.variant}: the drill has {len(drill.variants)}"
        raise CoachError(what, drill.name, "see `coach drills`")
    passage = drill.variants[args.variant - 1]
    made = makers[kind](value, passage, drill, instrument)
    return replace(made, title=f"{name.upper()} ({_named(kind, value)})")


def _named(kind: str, value: str) -> str:
    return {
        "fingering": f"fingering plan {value}",
        "side": f"on the {value} side",
        "tonguing": f"{value} tonguing",
        "drill": value,
    }[kind]


def _planned(value: str, passage: Passage, drill: Drill, instrument: Instrument) -> Passage:
    if value not in map(str, range(1, MOST_PLANS + 1)):
        raise CoachError(f"fingering={value} is no plan", "", f"give 1 to {MOST_PLANS}")
    return fingered(passage, drill.to_bpm, instrument, drill.name, int(value))


def _on_side(value: str, passage: Passage, drill: Drill, instrument: Instrument) -> Passage:
    tubes = tuple(tube for tube in instrument.tubes if tube.side == value)
    if not tubes:
        sides = " or ".join(f"side={tube.side}" for tube in instrument.tubes if tube.side)
        what = f"side={value} is no side of the {instrument.title}"
        raise CoachError(what, "", f"use {sides}" if sides else "try two fingerings")
    one_sided = replace(instrument, tubes=tubes)
    return fingered(passage, drill.to_bpm, one_sided, drill.name, 1)


def _styled(value: str, passage: Passage, drill: Drill, instrument: Instrument) -> Passage:
    from coach.core.tonguing import STYLES, Style, without_syllables

    if value not in STYLES:
        raise CoachError(f"tonguing={value} is unknown", "", f"use {', '.join(STYLES)}")
    return tongued(without_syllables(passage), drill.to_bpm, Style(force=value))


def _other(value: str, passage: Passage, drill: Drill, instrument: Instrument) -> Passage:
    from coach.files.drillshelf import load_drill

    other, _ = load_drill(value, instrument=instrument.name)
    return other.variants[0]


def _unit(way: str) -> str:
    """What the second way changes."""
    kinds = {"fingering": "fingering", "side": "fingering", "tonguing": "syllable"}
    return kinds.get(way.partition("=")[0], "")


def _relearned(a: Passage, b: Passage) -> int:
    """Notes on which the second way asks for other fingers or another syllable than the first."""
    return sum(
        (x.fingering, x.syllable) != (y.fingering, y.syllable)
        for x, y in zip(a.notes, b.notes, strict=False)
    )


def _tell(guide: Any, a: Passage, b: Passage, args: argparse.Namespace) -> None:
    from coach.core.trial.result import outcome_of, words

    outcome = outcome_of(guide.trial, _relearned(a, b))
    print(words(outcome, a.title, b.title, _unit(args.b)))
    if args.json:
        told = {"a": a.title, "b": b.title, **outcome.to_dict()}
        write_result(args.json, told, private=True)
