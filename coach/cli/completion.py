"""`coach completion`: what a shell needs to complete commands, options, names and files."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from coach.cli.saying import print
from coach.errors import CoachError

SHELLS = ("bash", "zsh", "fish", "powershell", "tcsh")
FILES = ("FILE", "OUT", "JSON", "LIST", "PATH", "SCORE", "AUDIO")
# What is asked for while somebody types: it must answer at once.
ASK = "coach completion --names"
HEAD = "# Where this goes: coach help completion"


def add(commands: Any) -> None:
    parser = commands.add_parser(
        "completion", help="what your shell needs to complete what you type"
    )
    parser.add_argument("shell", nargs="?", metavar="SHELL", help=", ".join(SHELLS))
    parser.add_argument("--names", metavar="KIND", help=argparse.SUPPRESS)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    if args.names is not None:
        print("\n".join(_names(args.names)))
    elif args.shell in SHELLS:
        print(_script(args.shell))
    else:
        what = "no shell is named" if args.shell is None else f'"{args.shell}" is no shell'
        hint = f"use {', '.join(SHELLS)}; where to put it: coach help completion"
        raise CoachError(what, "completion", hint)
    return 0


def _drills() -> Iterable[str]:
    from coach.files.drillshelf import drill_names

    return drill_names()


def _instruments() -> Iterable[str]:
    from coach.files.configs import instrument_names

    return instrument_names()


def _words() -> Iterable[str]:
    from coach.cli import commands
    from coach.files.topics import topic_names

    return sorted({*topic_names(), *commands()})


def _inputs() -> Iterable[str]:
    return ("mic", "midi", "player")


KINDS: dict[str, Callable[[], Iterable[str]]] = {
    "drills": _drills,
    "instruments": _instruments,
    "words": _words,
    "inputs": _inputs,
}


def _names(kind: str) -> Iterable[str]:
    if kind not in KINDS:
        raise CoachError(f'--names "{kind}" is unknown', "", f"use {', '.join(KINDS)}")
    return KINDS[kind]()


def _script(shell: str) -> str:
    import shtab

    from coach.cli import whole_parser
    from coach.cli.parsing import commands_of

    parser = whole_parser()
    for command, own in commands_of(parser).items():
        for action in own._actions:
            _mark(command, action)
    return _headed(str(shtab.complete(parser, shell)))


def _headed(script: str) -> str:
    """With one place to look up where it goes, in place of what the library says about that."""
    lines = script.splitlines()
    # zsh reads its first line.
    first = [lines.pop(0), ""] if lines[0].startswith("#compdef") else []
    while not lines[0] or lines[0].startswith("#"):
        lines.pop(0)
    return "\n".join([*first, HEAD, "", *lines])


def _mark(command: str, action: Any) -> None:
    """Say by what the action's value is completed; a flag has none."""
    import shtab

    if action.nargs == 0:
        return
    choices = _choices(action)
    if choices:
        action.choices = choices
    elif (kind := _kind(command, action)) is not None:
        action.complete = shtab.cmd(f"{ASK} {kind}")
    elif action.metavar == "NAME_OR_FILE" or "--input" in action.option_strings:
        action.complete = _or_files("drills" if action.metavar == "NAME_OR_FILE" else "inputs")
    elif action.metavar in FILES or action.type is Path:
        action.complete = shtab.FILE


def _kind(command: str, action: Any) -> str | None:
    """Of what the value is the name."""
    names = (*action.option_strings, action.dest)
    if "--instrument" in names or (command, action.dest) == ("instrument", "name"):
        return "instruments"
    if "--drill" in names or (action.dest == "drill" and action.metavar == "DRILL"):
        return "drills"
    return "words" if (command, action.dest) == ("help", "topic") else None


def _choices(action: Any) -> tuple[str, ...]:
    """All that the option can be, where that is soon said."""
    from coach.core.exercise import CLICK_SOUNDS
    from coach.core.gate import RULES
    from coach.files.configs import rules_names

    if action.dest == "shell":
        return SHELLS
    known = {
        "--rules": rules_names(),
        "--pace": RULES,
        "--click": CLICK_SOUNDS,
        "--divisi": ("top", "bottom"),
    }
    return next((known[name] for name in action.option_strings if name in known), ())


def _or_files(kind: str) -> dict[str, Any]:
    """One of the names, or a file."""
    ask, name = f"{ASK} {kind}", f"_coach_{kind}_or_files"
    bash = f'{name}() {{\n  compgen -W "$({ask})" -- "$1"\n  compgen -f -- "$1"\n}}'
    zsh = f"{name}() {{\n  _alternative \"{kind}:{kind}:($({ask}))\" 'files:file:_files'\n}}"
    powershell = (
        f"function {name} {{\n  param([string]$WordToComplete)\n"
        f'  @({ask} 2>$null) | Where-Object {{ $_ -like "$WordToComplete*" }}\n'
        "  _shtab_powershell_compgen_files $WordToComplete\n}"
    )
    return {
        "bash": name,
        "zsh": name,
        "tcsh": f"`{ask}`",
        "fish": f"({ask}; __fish_complete_path (commandline -ct))",
        "powershell": name,
        "preamble": {"bash": bash, "zsh": zsh, "powershell": powershell},
    }
