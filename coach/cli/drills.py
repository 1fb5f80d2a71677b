"""`coach drills`: what there is to practise, or what one of them is."""

from __future__ import annotations

import argparse
from typing import Any

from coach.cli.typed import typed


def add(commands: Any) -> None:
    parser = commands.add_parser("drills", help="list the drills; tell of one")
    parser.add_argument("drill", nargs="?", metavar="DRILL", help="without it, all are listed")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from rich.console import Console

    from coach.files.drillshelf import list_drills, load_drill
    from coach.screen import drill_page, drills_table

    console = Console(highlight=False)
    if args.drill is None:
        console.print(drills_table(list_drills()))
        return 0
    drill, instrument = load_drill(args.drill)
    console.print(drill_page(drill, instrument.title))
    command = typed("coach", "drill", args.drill)
    console.print(f"\n  Play it: {command}", markup=False, soft_wrap=True)
    return 0
