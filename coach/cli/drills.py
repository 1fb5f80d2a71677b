"""`coach drills`: what there is to practise."""

from __future__ import annotations

import argparse
from typing import Any


def add(commands: Any) -> None:
    parser = commands.add_parser("drills", help="list the drills")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from rich.console import Console

    from coach.files.drillfile import list_drills
    from coach.screen import drills_table

    Console().print(drills_table(list_drills()))
    return 0
