"""The command line: arguments to real ports, book and screen.  The only room that knows all others.

Each command is one small module with `add(commands)` and `run(args) -> exit status`; heavy imports
stand inside `run`, so that `coach --help` answers at once.
"""

from __future__ import annotations

import argparse
import contextlib
import errno
import os
import sys
from collections.abc import Sequence
from importlib import import_module

from coach.cli.saying import print
from coach.errors import CoachError, reason_of
from coach.ports.signals import ends_in_order
from coach.screen.letters import STAND_INS

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
    "help",
    "completion",
)
# Commands whose names can be no module's.
MODULES = {"import": "importing", "return": "returning"}


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit status (0 done, 2 bad input, 3 a device failed)."""
    with ends_in_order():
        _stand_in()
        try:
            return _run(argv)
        except CoachError as error:
            _say(str(error))
            return error.exit_status
        except KeyboardInterrupt:
            return 130
        except BrokenPipeError:
            _silence()
            return 0
        except OSError as error:
            _silence()
            if _nobody_reads(error):
                return 0
            _say(_refusal(error))
            return 2


def _run(argv: Sequence[str] | None) -> int:
    """What was printed is out when this returns: else a full disk, or nobody at the other end of a
    pipe, would show only after the last `except`."""
    try:
        status = _asked(sys.argv[1:] if argv is None else list(argv))
    except SystemExit:
        sys.stdout.flush()
        raise
    sys.stdout.flush()
    return status


def _stand_in() -> None:
    """Where the shell has closed a standard stream, one that holds and takes nothing; and letters
    that stand in for those that the other end lacks."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: SIM115
    if hasattr(sys.stdout, "reconfigure"):
        sys.stdout.reconfigure(errors=STAND_INS)


def _nobody_reads(error: OSError) -> bool:
    """What Windows makes of a pipe that was closed at its other end."""
    return sys.platform == "win32" and error.errno == errno.EINVAL and error.filename is None


def _silence() -> None:
    """Nobody takes what is printed: at its end Python would try, and complain, once more."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _say(sentence: str) -> None:
    from coach.cli.wrapping import for_errors

    with contextlib.suppress(OSError):  # the terminal may be gone
        print(for_errors(sentence), file=sys.stderr, flush=True)


def _refusal(error: OSError) -> str:
    """What the system refused, where it was not foreseen that it could."""
    what = reason_of(error)
    where = error.filename if isinstance(error.filename, str) else ""
    full = error.errno == errno.ENOSPC
    hint = "make room on the disk" if full else "see that it is there, and yours to use"
    return str(CoachError(what, where, f"{hint}, then start again"))


def _asked(words: list[str]) -> int:
    from coach.cli.parsing import no_command, parsed

    if not words:
        from coach.cli import begin

        return begin.run()
    command = None if words[0].startswith("-") else words[0]
    if command is not None and command not in commands():
        raise no_command(command, commands())
    args = parsed(whole_parser(command), command, words)
    return int(args.run(args))


def commands() -> dict[str, str]:
    """Each command with its module's name."""
    names = {module: name for name, module in MODULES.items()}
    return {names.get(module, module): module for module in COMMANDS}


def whole_parser(command: str | None = None) -> argparse.ArgumentParser:
    """All commands; or one alone, which is made sooner."""
    from coach.cli.parsing import Parser

    parser = Parser(
        prog="coach",
        description="Practise fast passages on a brass instrument: it keeps the click, listens,"
        " shows each note, and moves the tempo on only when the notes are clean.",
        epilog="`coach` alone says where to begin, or what today asks; `coach help` what the words"
        " mean.",
    )
    parser.add_argument("--version", action="store_true", help="print the version and stop")
    parser.set_defaults(run=_no_command)
    added = parser.add_subparsers(title="commands", metavar="COMMAND")
    for module in commands().values() if command is None else [commands()[command]]:
        import_module(f"coach.cli.{module}").add(added)
    return parser


def _no_command(args: argparse.Namespace) -> int:
    if args.version:
        from coach import __version__

        print(f"coach {__version__}")
        return 0
    raise CoachError("there is no command", "", "coach help lists them all")
