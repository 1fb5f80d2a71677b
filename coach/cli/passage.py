"""`coach passage`: what is in a score, some bars of one part, its hard places; written anew."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from coach.cli.loading import add_score_options, choice_of
from coach.errors import CoachError, FileError


def add(commands: Any) -> None:
    parser = commands.add_parser("passage", help="notes out of a score; its parts and hard places")
    parser.add_argument("file", metavar="FILE", help="a score; or a drill, to write it with --out")
    parser.add_argument("--instrument", metavar="NAME", help="else the part's own")
    add_score_options(parser)
    parser.add_argument(
        "--hard", type=int, metavar="N", help="the N hardest places of the part, as drills"
    )
    parser.add_argument(
        "--out", type=Path, metavar="FILE", help="write it: .toml (a drill), .musicxml, .mid, .abc"
    )
    parser.add_argument("--replace", action="store_true", help="write over a file that is there")
    parser.add_argument("--json", type=Path, metavar="OUT", help="write the result here")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    if args.hard is not None:
        return _hard(args)
    if args.out is not None:
        return _write(args)
    plain = args.json is None and args.part is None and args.bars is None
    return _overview(args) if plain else _passage(args)
