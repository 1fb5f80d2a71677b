"""The command line read: what is wrong with it is told in one sentence, as everything else is."""

from __future__ import annotations

import argparse
from collections.abc import Iterable, Sequence
from difflib import get_close_matches
from typing import Any, NoReturn

from coach.errors import CoachError

MISSING = "the following arguments are required: "
# What to give, where its name alone does not tell.
GIVE = {
    "NAME_OR_FILE": "`coach drills` lists the drills, scales-one-octave is a good first one",
    "SCORE": "give a score (.musicxml, .mxl, .mid, .abc)",
}
# Less alike, a mistyped word may be any other.
ALIKE = 0.75


class Parser(argparse.ArgumentParser):
    """Raises CoachError where argparse would print all options and stop."""

    def error(self, message: str) -> NoReturn:
        where = self.prog.removeprefix("coach").strip()
        hint = f"see {self.prog} --help"
        if message.startswith(MISSING):
            names = message.removeprefix(MISSING)
            given = next((words for name, words in GIVE.items() if name in names), hint)
            raise CoachError(f"{names} is missing", where, given)
        raise CoachError(message.removeprefix("argument "), where, hint)


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


def helps_of(parser: argparse.ArgumentParser) -> dict[str, str]:
    """What each command is for, in a few words."""
    return {one.dest: one.help or "" for one in _commands(parser)._choices_actions}


def _commands(parser: argparse.ArgumentParser) -> argparse._SubParsersAction[Any]:
    return next(one for one in parser._actions if isinstance(one, argparse._SubParsersAction))


def near(word: str, known: Iterable[str], rest: str) -> str:
    """The one that was meant, where one is much like the word; then the rest of the hint."""
    found = get_close_matches(word, list(known), n=1, cutoff=ALIKE)
    return f"did you mean {found[0]}? {rest[0].upper()}{rest[1:]}" if found else rest


def no_command(word: str, commands: Iterable[str]) -> CoachError:
    """The error for a command that is none: a drill, a word to be explained, or mistyped."""
    from coach.files.drillfile import is_drill
    from coach.files.topics import topic_names

    if is_drill(word):
        hint = f"to practise it: coach drill {word}"
    elif word in topic_names():
        hint = f"what that means: coach help {word}"
    else:
        hint = near(word, commands, "all commands: coach help")
    return CoachError(f'there is no command "{word}"', "", hint)
