"""The command line: arguments to real ports, book and screen.  The only room that knows all others.

Each command is one small module with `add(commands)` and `run(args) -> exit status`; heavy imports
stand inside `run`, so that `coach --help` answers at once.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from importlib import import_module

from coach.errors import CoachError

COMMANDS = (
    "drill",
    "warmup",
    "build",
    "trial",
    "demo",
    "drills",
    "passage",
    "fingering",
    "instrument",
    "tutti",
    "learn",
    "next",
    "review",
    "listen",
    "today",
    "goal",
    "played",
    "player",
    "sheet",
    "tonguing",
    "tuner",
    "export",
    "importing",
    "assign",
    "returning",
    "assess",
    "check",
    "devices",
)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit status (0 done, 2 bad input, 3 a device failed)."""
    args = _parser().parse_args(argv)
    try:
        return int(args.run(args))
    except CoachError as error:
        print(f"coach: {error}", file=sys.stderr)
        return error.exit_status
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="coach",
        description="Practise fast passages on a brass instrument: it keeps the click, listens,"
        " shows each note, and moves the tempo on only when the notes are clean.",
    )
    parser.add_argument("--version", action="store_true", help="print the version and stop")
    parser.set_defaults(run=_nothing_asked)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")
    for name in COMMANDS:
        import_module(f"coach.cli.{name}").add(commands)
    return parser


def _nothing_asked(args: argparse.Namespace) -> int:
    if args.version:
        from coach import __version__

        print(f"coach {__version__}")
        return 0
    _parser().print_help()
    return 0
