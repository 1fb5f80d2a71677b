"""`coach demo`: the whole job on a simulated player; no sound card, no network."""

from __future__ import annotations

import argparse
from typing import Any

from coach.cli.options import add_drill_options, add_player_options, changed_drill
from coach.cli.record import book_path
from coach.cli.saying import print

DRILL = "demo-run"


def add(commands: Any) -> None:
    parser = commands.add_parser("demo", help="see the whole job, played by a simulated player")
    add_player_options(parser)
    add_drill_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.cli.opening import player
    from coach.cli.practice import NoBook, check_session, practise
    from coach.files.drillshelf import load_drill

    check_session(args)
    drill, instrument = load_drill(DRILL)
    drill = changed_drill(drill, args)
    args.takes = args.takes or 5
    practise(args, drill, instrument, player(args), NoBook())
    if not book_path().exists():
        print("Now you: coach check, once, then coach warmup.")
    return 0
