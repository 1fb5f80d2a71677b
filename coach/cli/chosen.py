"""One passage of a drill, chosen on the command line, and a result written as JSON."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from coach.cli.options import FASTEST_BPM, SLOWEST_BPM, within
from coach.errors import CoachError
from coach.files.output import check_result, write_whole

if TYPE_CHECKING:
    from coach.core.exercise import Drill
    from coach.core.instrument import Instrument
    from coach.core.passage import Passage


def add_chosen_options(parser: argparse.ArgumentParser) -> None:
    """Which drill, which of its passages, on what instrument, at what tempo."""
    from coach.cli.loading import add_score_options

    parser.add_argument("drill", metavar="NAME_OR_FILE", help="see `coach drills`; or a score")
    parser.add_argument("--variant", type=int, default=1, metavar="N", help="of a drill in many")
    parser.add_argument("--instrument", metavar="NAME", help="(default: the drill's own)")
    parser.add_argument(
        "--tempo", type=float, metavar="BPM", help="(default: the goal of the drill)"
    )
    add_score_options(parser)


def chosen(args: argparse.Namespace) -> tuple[Drill, Instrument, Passage, float]:
    """The drill, its instrument, the passage that was asked for, and clicks a minute."""
    from coach.cli.loading import loaded

    tempo_bpm = within(args.tempo, "--tempo", SLOWEST_BPM, FASTEST_BPM)
    drill, instrument = loaded(args, args.drill, args.instrument)
    count = len(drill.variants)
    if not 1 <= args.variant <= count:
        hint = f"use 1 to {count}" if count > 1 else "it has only one"
        raise CoachError(f"--variant {args.variant} is not in this drill", "", hint)
    return drill, instrument, drill.variants[args.variant - 1], tempo_bpm or drill.to_bpm


def write_result(path: Path, result: dict[str, Any], *, private: bool = False) -> None:
    """One JSON object in a file of its own, in place of an older result; `private`: it tells of the
    player."""
    check_result(path)
    write_whole(path, json.dumps(result, ensure_ascii=False) + "\n", private=private)
