"""`coach help`: what the words mean, and which commands there are."""

from __future__ import annotations

import argparse
import shutil
import textwrap
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from coach.cli.saying import print
from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.core.topics import Topic

# A line longer than this is read badly.
WIDEST, NARROWEST = 76, 20
FIRST = "New here? coach help first-minute"
# In the order in which they are listed.
COMMAND_GROUPS = {
    "Beginning": ("demo", "check", "devices", "help", "completion"),
    "Practising": ("drill", "warmup", "build", "trial", "tutti", "tuner"),
    "Planning": ("today", "goal", "played", "next"),
    "Looking back": ("review", "listen"),
    "Drills and scores": ("drills", "passage", "learn", "sheet"),
    "Brass": ("fingering", "tonguing", "instrument"),
    "Players, teachers": ("player", "export", "import", "assign", "return"),
    "Recordings": ("assess",),
}


def add(commands: Any) -> None:
    parser = commands.add_parser("help", help="what the words mean; all commands")
    parser.add_argument(
        "topic", nargs="*", metavar="WORD", help="without it, all of them are listed"
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    width = max(NARROWEST, min(shutil.get_terminal_size().columns, WIDEST))
    word = " ".join(args.topic)
    print("\n".join(_explained(word, width) if word else _listed(width)))
    return 0


def _explained(word: str, width: int) -> Sequence[str]:
    """The topic of that word; of a command its options."""
    from coach.cli import commands
    from coach.core.topics import laid_out
    from coach.files.topics import find_topic

    topic = find_topic(word)
    if topic is None and word in commands():
        return _options_of(word).rstrip("\n").split("\n")
    if topic is None:
        raise _unexplained(word)
    command = next((name for name in (word, topic.name) if name in commands()), None)
    rows = laid_out(topic, width)
    return [*rows, f"Options: coach {command} --help"] if command else rows


def _unexplained(word: str) -> CoachError:
    from coach.cli import commands
    from coach.cli.parsing import near
    from coach.files.topics import load_topics

    words = {name for topic in load_topics() for name in (topic.name, *topic.also)}
    hint = near(word, sorted({*words, *commands()}), "all words: coach help")
    return CoachError(f'"{word}" is not explained', "help", hint)


def _options_of(command: str) -> str:
    from coach.cli import whole_parser
    from coach.cli.parsing import commands_of

    return commands_of(whole_parser(command))[command].format_help()


def _listed(width: int) -> Iterator[str]:
    from coach.core.topics import GROUPS
    from coach.files.topics import load_topics

    heading = "Commands (coach --help tells what each is for, coach COMMAND --help its options)"
    yield from textwrap.wrap(heading, width)
    for title, names in COMMAND_GROUPS.items():
        yield from _row(title, ", ".join(names), width, 20)
    yield ""
    yield from textwrap.wrap("Words (coach help WORD tells what is meant by one)", width)
    topics = load_topics()
    for group, title in GROUPS.items():
        yield from _row(title, _names(topics, group), width, 20)
    yield from ["", *textwrap.wrap(FIRST, width)]


def _names(topics: Sequence[Topic], group: str) -> str:
    return ", ".join(topic.name for topic in topics if topic.group == group)


def _row(name: str, about: str, width: int, across: int) -> list[str]:
    """A name and what is said of it, beside it or, where it is narrow, below."""
    start = f"  {name:<{across}}"
    if width < 60:
        start, across = f"  {name}: ", 2
    indent = " " * (across + 2)
    return textwrap.wrap(
        about, width, initial_indent=start, subsequent_indent=indent, break_on_hyphens=False
    )
