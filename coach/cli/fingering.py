"""`coach fingering`: the best fingerings of a passage, and why."""

from __future__ import annotations

import argparse
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

from coach.cli.carried import MOST_PLANS
from coach.cli.slides import add_slide_options, changed
from coach.core.exercise import Drill
from coach.core.instrument import Instrument
from coach.core.passage import Passage
from coach.errors import CoachError, FileError

SLOWEST_BPM, FASTEST_BPM = 10.0, 400.0


def add(commands: Any) -> None:
    parser = commands.add_parser("fingering", help="the best fingerings of a passage, and why")
    parser.add_argument("file", metavar="NAME_OR_FILE", help="a drill; see `coach drills`")
    parser.add_argument("--variant", type=int, default=1, metavar="N", help="of the drill")
    parser.add_argument("--part", metavar="NAME", help="of a score")
    parser.add_argument("--bars", metavar="A-B", help="only these bars")
    parser.add_argument("--instrument", metavar="NAME", help="else the drill's own")
    parser.add_argument("--tempo", type=float, metavar="BPM", help="else the drill's goal")
    parser.add_argument(
        "--alternatives", type=int, default=2, metavar="K", help="how many plans (default 2)"
    )
    parser.add_argument("--fixed", type=Path, metavar="JSON", help="cost these fingerings instead")
    parser.add_argument("--known", type=Path, metavar="JSON", help="what the fingers know already")
    add_slide_options(parser)
    parser.add_argument("--stopped", action="store_true", help="the hand stops the horn")
    parser.add_argument("--json", type=Path, metavar="OUT", help="write the plans here")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.core.fingering.ask import NoFingeringError

    drill, instrument, passage = opened(args)
    passage = replace(passage, title=": ".join(filter(None, (drill.title, passage.title))))
    tempo_bpm = _tempo(args, drill)
    try:
        result = _planned(args, passage, tempo_bpm, instrument)
    except NoFingeringError as error:
        raise _not_playable(error, passage, instrument, args.file) from None
    if args.json is not None:
        _write(args.json, result.to_dict())
    else:
        from coach.screen.fingering import show_plans

        show_plans(result, args.file)
    return 0


def opened(args: argparse.Namespace) -> tuple[Drill, Instrument, Passage]:
    """The drill, its instrument, and the passage that was asked for."""
    from coach.files.drillfile import load_drill

    drill, instrument = load_drill(args.file, instrument=args.instrument)
    if not 1 <= args.variant <= len(drill.variants):
        what = f"there is no variant {args.variant}"
        raise CoachError(what, args.file, f"choose from 1 to {len(drill.variants)}")
    if args.part is not None:
        raise CoachError("a drill has no parts", args.file, "leave --part out")
    passage = drill.variants[args.variant - 1]
    return drill, instrument, _in_bars(passage, args.bars, args.file)


def _in_bars(passage: Passage, bars: str | None, where: str) -> Passage:
    """The notes that begin in bars A to B."""
    if bars is None:
        return passage
    first, _, last = bars.partition("-")
    if not first.isdecimal() or not (last or first).isdecimal() or int(first) < 1:
        raise CoachError(f"--bars {bars} is no range of bars", where, "write 2-4, or 3")
    low = (int(first) - 1) * passage.bar_beats
    high = int(last or first) * passage.bar_beats
    notes = tuple(
        replace(note, start_beats=note.start_beats - low)
        for note in passage.notes
        if low <= note.start_beats < high
    )
    if not notes:
        raise CoachError(f"no note begins in bars {bars}", where, "choose other bars")
    return replace(passage, notes=notes)


def _tempo(args: argparse.Namespace, drill: Drill) -> float:
    tempo_bpm = drill.to_bpm if args.tempo is None else args.tempo
    if not SLOWEST_BPM <= tempo_bpm <= FASTEST_BPM:
        raise CoachError(f"--tempo {tempo_bpm:g} is no tempo", "", "give 10 to 400")
    return float(tempo_bpm)


def _planned(
    args: argparse.Namespace, passage: Passage, tempo_bpm: float, instrument: Instrument
) -> Any:
    from coach.core.fingering.ask import fixed_plan, problem_of
    from coach.core.fingering.planner import plans
    from coach.core.fingering.problem import Plan
    from coach.core.fingering.told import Told
    from coach.files.fingering import load_weights, read_fingerings

    if not 1 <= args.alternatives <= MOST_PLANS:
        what = f"--alternatives {args.alternatives} is no number of plans"
        raise CoachError(what, "", f"give 1 to {MOST_PLANS}")
    count = len(passage.notes)
    known = read_fingerings(args.known, count) if args.known else None
    instrument = changed(instrument, args)
    problem = problem_of(
        passage,
        tempo_bpm,
        instrument,
        load_weights(),
        known=known,
        stopped=args.stopped,
    )
    found: tuple[Plan, ...]
    if args.fixed:
        asked = read_fingerings(args.fixed, count)
        found = (fixed_plan(problem, instrument, asked, stopped=args.stopped),)
    else:
        found = plans(problem, args.alternatives)
    return Told(passage, tempo_bpm, instrument, problem, found)


def _not_playable(error: Any, passage: Passage, instrument: Instrument, where: str) -> CoachError:
    from coach.core.pitch import name_of_midi

    name = name_of_midi(error.pitch - instrument.transposition, passage.fifths)
    place = f"{where}, note {error.index + 1}"
    if error.asked is None:
        return CoachError(
            f"written {name} can't be played on the {instrument.title}", place, "choose another"
        )
    hint = f"choose from {', '.join(error.allowed)}"
    return CoachError(f"{error.asked} doesn't give written {name}", place, hint)


def _write(path: Path, result: dict[str, Any]) -> None:
    try:
        path.write_text(json.dumps(result, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    except OSError as error:
        raise FileError(
            "this file can't be written", str(path), (error.strerror or "").lower()
        ) from None
