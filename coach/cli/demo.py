"""`coach demo`: the whole job on a simulated player; no sound card, no network."""

from __future__ import annotations

import argparse
from typing import Any

from coach.cli.options import add_drill_options, changed_drill

DRILL = "demo-run"


def add(commands: Any) -> None:
    parser = commands.add_parser("demo", help="see the whole job, played by a simulated player")
    parser.add_argument("--fast", action="store_true", help="do not wait for real time")
    parser.add_argument("--seed", type=int, default=1, help="another player, another day")
    add_drill_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from coach.cli.opening import sound_ear
    from coach.cli.practice import NoBook, checked_takes, practise
    from coach.files.drillfile import load_drill
    from coach.ports.player.port import PlayerPort
    from coach.ports.player.skill import Skill

    checked_takes(args)
    drill, instrument = load_drill(DRILL)
    drill = changed_drill(drill, args)
    args.takes = args.takes or 5
    port = PlayerPort(skill=Skill(), seed=args.seed, realtime=not args.fast)
    practise(args, drill, instrument, port, sound_ear, NoBook())
    return 0
