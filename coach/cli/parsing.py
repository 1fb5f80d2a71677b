"""The command line read: what is wrong with it is told in one sentence, as everything else is."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable, Iterable, Sequence
from difflib import get_close_matches
from typing import Any, NoReturn

from coach.errors import CoachError

MISSING = "the following arguments are required: "
# What to give, where its name alone does not tell.
GIVE = {
    "NAME_OR_FILE": "`coach drills` lists the drills, scales-one-octave is a good first one",
    "SCORE": "give a score (.musicxml, .mxl, .mid, .abc)",
}
# A whole line, for commands that want more than a name.
WRITE = {
    "assign": "coach assign week.jsonl turns=112",
    "build": "coach build thirds --to 120",
    "export": "coach export me.jsonl",
    "import": "coach import me.jsonl",
    "learn": "coach learn --out NAME",
    "passage": "coach passage symphony.mxl",
    "played": "coach played 90 --what rehearsal",
    "return": "coach return back.jsonl",
    "trial": "coach trial NAME --a fingering=1 --b fingering=2",
}
# A value for what stands there in the help of an option.
SUCH_AS = {"BPM": "60", "DB": "-12", "M": "20", "MINUTES": "90", "PERCENT": "4", "SHARE": "0.9"}
# Less alike, a mistyped word may be any other.
ALIKE = 0.75
# The help of an option begins here at the latest: beside the name of each command, too.
HELP_COLUMN = 26


class Formatter(argparse.HelpFormatter):
    """Argparse's own, but that long names leave room for what is said of them."""

    def __init__(self, prog: str, **options: Any) -> None:
        super().__init__(prog, **{"max_help_position": HELP_COLUMN, **options})

    def add_argument(self, action: argparse.Action) -> None:
        """Commands are set in once more than their title, which argparse forgets to count."""
        super().add_argument(action)
        if isinstance(action, argparse._SubParsersAction):
            self._action_max_length += self._indent_increment


class Parser(argparse.ArgumentParser):
    """Raises CoachError where argparse would print all options and stop."""

    def __init__(self, **options: Any) -> None:
        super().__init__(**{"formatter_class": Formatter, **options})

    def error(self, message: str) -> NoReturn:
        where = self.prog.removeprefix("coach").strip()
        hint = f"see {self.prog} --help"
        if message.startswith(MISSING):
            raise _missing(message.removeprefix(MISSING), where, hint)
        for pattern, told in _TOLD.items():
            found = re.fullmatch(pattern, message)
            if found:
                what, instead = told(*found.groups())
                raise CoachError(what, where, instead or self._such_as(found[1], hint))
        raise CoachError(message.removeprefix("argument "), where, hint)

    def _such_as(self, name: str, hint: str) -> str:
        """What the option could be."""
        metavars = (a.metavar for a in self._actions if name in (*a.option_strings, a.metavar))
        value = SUCH_AS.get(str(next(metavars, "")))
        return f"write e.g. {value}" if value else hint


def _missing(names: str, where: str, hint: str) -> CoachError:
    several = ", " in names
    given = next((words for name, words in GIVE.items() if name in names and not several), hint)
    if where in WRITE:
        given = f"write: {WRITE[where]}"
    what = " and ".join(names.rsplit(", ", 1))
    return CoachError(f"{what} {'are' if several else 'is'} missing", where, given)


def _choice(name: str, value: str, choices: str) -> tuple[str, str]:
    return f"{name} {value} is unknown", f"use {choices.replace(chr(39), '')}"


# What argparse says, and what is said instead: the sentence, and what to do ("": a value to write).
_TOLD: dict[str, Callable[..., tuple[str, str]]] = {
    r"argument (\S+): invalid float value: '(.*)'": lambda name, value: (
        f"{name} {value} is no number",
        "",
    ),
    r"argument (\S+): invalid int value: '(.*)'": lambda name, value: (
        f"{name} {value} is no whole number",
        "",
    ),
    r"argument (\S+): expected (?:one|at least one) argument": lambda name: (
        f"{name} wants a value behind it",
        "",
    ),
    r"argument (\S+): ignored explicit argument '(.*)'": lambda name, value: (
        f"{name} takes no value",
        f"leave ={value} out",
    ),
    r"argument (\S+): not allowed with argument (\S+)": lambda one, other: (
        f"{one} and {other} can't go together",
        "choose one",
    ),
    r"argument (\S+): invalid choice: '(.*)' \(choose from (.*)\)": _choice,
    r"ambiguous option: (\S+) could match (.*)": lambda name, names: (
        f"{name} can be {names.replace(', ', ' or ')}",
        "write more of it",
    ),
}


def parsed(
    parser: argparse.ArgumentParser, command: str | None, words: Sequence[str]
) -> argparse.Namespace:
    """The arguments; CoachError for what the command does not take."""
    args, more = parser.parse_known_args(words)
    if more:
        word = more[0].partition("=")[0]
        rest = f"all options: {f'coach {command}' if command else 'coach'} --help"
        hint = near(word, options_of(parser, command), rest)
        raise CoachError(f"{word} is unknown here", command or "", hint)
    return args


def options_of(parser: argparse.ArgumentParser, command: str | None) -> list[str]:
    """All options of a command, or (None) those before any command."""
    own = commands_of(parser)[command] if command else parser
    return [name for action in own._actions for name in action.option_strings]


def commands_of(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """The parser of each command."""
    return dict(_commands(parser).choices)


def _commands(parser: argparse.ArgumentParser) -> argparse._SubParsersAction[Any]:
    return next(one for one in parser._actions if isinstance(one, argparse._SubParsersAction))


def near(word: str, known: Iterable[str], rest: str) -> str:
    """The one that was meant, where one is much like the word; then the rest of the hint."""
    found = get_close_matches(word, list(known), n=1, cutoff=ALIKE)
    return f"did you mean {found[0]}? {rest[0].upper()}{rest[1:]}" if found else rest


def no_command(word: str, commands: Iterable[str]) -> CoachError:
    """The error for a command that is none: a drill, a word to be explained, or mistyped."""
    from coach.files.drillshelf import is_drill
    from coach.files.topics import find_topic

    names = tuple(commands)
    if is_drill(word):
        hint = f"to practise it: coach drill {word}"
    elif (topic := find_topic(word)) is not None:
        hint = f"what that means: coach help {word}"
        command = next((name for name in topic.also if name in names), None)
        if command is not None:
            title = topic.title.partition(":")[0]
            hint = f"for {title[0].lower()}{title[1:]}: coach {command}; {hint}"
    else:
        hint = near(word, names, "all commands: coach help")
    return CoachError(f'there is no command "{word}"', "", hint)
