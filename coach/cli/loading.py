"""A drill by name, a drill file, or some bars of a part in a score: what commands practise."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.core.exercise import Drill
    from coach.core.instrument import Instrument
    from coach.core.passage import Passage
    from coach.core.score.choose import Choice


def add_score_options(parser: argparse.ArgumentParser) -> None:
    """Which part of a score, which bars, and how the part is read."""
    score = parser.add_argument_group("of a score (.musicxml, .mxl, .mid, .abc)")
    score.add_argument("--part", metavar="NAME", help="by name or number: see `coach passage FILE`")
    score.add_argument("--bars", metavar="A-B", help="only these, by their printed numbers")
    score.add_argument(
        "--divisi", default="top", metavar="WHICH", help="top (default), bottom, or a voice"
    )
    score.add_argument("--horn-in", metavar="KEY", help="read the part in this crook, e.g. D")
    score.add_argument(
        "--old-bass-clef", action="store_true", help="notes in bass clef are an octave higher"
    )


def choice_of(args: argparse.Namespace) -> Choice:
    """What the options say; CoachError for an unknown crook, and for bars that are none."""
    from coach.core.score.choose import Choice, Reading

    if args.bars is not None and not args.bars.strip():
        raise CoachError("--bars is empty", "", "write 41-44, or 41")
    crook = None
    if args.horn_in is not None:
        from coach.core.score.crooks import crook_of

        crook = crook_of(args.horn_in)
    return Choice(args.part, args.bars, Reading(args.divisi, crook, args.old_bass_clef))


def loaded(
    args: argparse.Namespace, name: str, instrument: str | None = None
) -> tuple[Drill, Instrument]:
    """The drill called `name`, or out of that file, with what the options choose of it."""
    from coach.cli.own import own_instrument
    from coach.core.score.choose import Reading
    from coach.files.drillshelf import load_drill
    from coach.files.scorefile import is_score

    choice = choice_of(args)
    instrument = instrument or own_instrument()
    if is_score(name):
        return load_drill(name, instrument=instrument, choice=choice)
    if choice.part is not None:
        raise CoachError("a drill has no parts", name, "leave --part out")
    if choice.reading != Reading():
        hint = "leave --divisi, --horn-in and --old-bass-clef out"
        raise CoachError("a drill is read in one way only", name, hint)
    drill, player = _by_name(name, instrument)
    if choice.bars is None:
        return drill, player
    variants = tuple(in_bars(passage, choice.bars, name) for passage in drill.variants)
    slug = f"{drill.name}-bars-{choice.bars}"
    return replace(drill, name=slug, variants=variants), player


def _by_name(name: str, instrument: str | None) -> tuple[Drill, Instrument]:
    """The drill file of that name; where there is none, what was played under it."""
    from coach.cli.own import kept_drill
    from coach.files.drillshelf import load_drill

    try:
        return load_drill(name, instrument=instrument)
    except CoachError:
        kept = None if Path(name).suffix else kept_drill(name, instrument)
        if kept is None:
            raise
        return kept


def in_bars(passage: Passage, wanted: str, where: str) -> Passage:
    """The notes of a drill that begin in bars A to B, by their numbers."""
    from coach.core.passage import from_bar

    first, _, last = wanted.partition("-")
    if not first.isdecimal() or not (last or first).isdecimal():
        raise CoachError(f"--bars {wanted} is no range of bars", where, "write 2-4, or 3")
    bars = passage.bars
    low, high = int(first) - passage.first_bar, int(last or first) - passage.first_bar
    if not 0 <= low < len(bars) or high < low:
        span = f"{passage.first_bar} to {passage.first_bar + len(bars) - 1}"
        raise CoachError(f"there are no bars {wanted}", where, f"use {span}")
    begun = from_bar(passage, low)
    end = bars[min(high, len(bars) - 1)].end_beats - bars[low].start_beats
    notes = tuple(note for note in begun.notes if note.start_beats < end)
    if not notes:
        raise CoachError(f"no note begins in bars {wanted}", where, "choose other bars")
    changes = tuple(change for change in begun.changes if change.start_beats < end)
    return replace(begun, notes=(replace(notes[0], slurred=False), *notes[1:]), changes=changes)
