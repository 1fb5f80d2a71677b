"""Short texts about the ideas behind the coach, and how they are laid out in a terminal.

A text has paragraphs, parted by empty lines.  Lines that begin with "- " are items of a list, and
lines set in by four blanks (what is to be typed) stay as they are.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby

# In the order in which they are listed.
GROUPS = {
    "begin": "Beginning",
    "judging": "What is judged",
    "tempo": "The tempo",
    "practice": "What to practise",
    "brass": "Brass",
    "music": "Scores and drills",
    "together": "Together",
    "around": "Sound, keys, files",
}
INDENT = "    "
# A blank at which no row ends.
TIED = "\N{NO-BREAK SPACE}"
_UNIT = re.compile(r"(?<=\d) (?=%|ms\b|dB\b|cents\b)")
_TYPED = re.compile(r"`[^`]{1,34}`")


@dataclass(frozen=True, slots=True)
class Topic:
    """One idea: `also` are other words for it, `see` the names of topics nearby."""

    name: str
    title: str
    group: str
    text: str
    also: tuple[str, ...] = ()
    see: tuple[str, ...] = ()

    def answers(self, word: str) -> bool:
        """Whether the word, however it is written, asks for this topic."""
        asked = plain(word)
        return asked in (plain(self.name), *map(plain, self.also))


def plain(word: str) -> str:
    """Without capitals, and with hyphens for blanks."""
    return "-".join(word.lower().replace("_", "-").replace("-", " ").split())


def laid_out(topic: Topic, width: int) -> list[str]:
    """Its rows, at most `width` letters wide but for what is to be typed."""
    rows = [topic.title, ""]
    for paragraph in topic.text.strip("\n").split("\n\n"):
        rows += [*_paragraph(paragraph.split("\n"), width), ""]
    if topic.see:
        rows += _wrapped(f"See also: {', '.join(topic.see)} (`coach help WORD`)", width)
    return rows if topic.see else rows[:-1]


def _paragraph(lines: list[str], width: int) -> Iterator[str]:
    for typed, group in groupby(lines, lambda line: line.startswith(INDENT)):
        if typed:
            yield from (line.rstrip() for line in group)
        else:
            for item in _items(list(group)):
                yield from _wrapped(item, width)


def _wrapped(item: str, width: int) -> Iterator[str]:
    """Figures stay beside their units, and what is to be typed in one piece where there is room."""
    kept = _UNIT.sub(TIED, item)
    kept = _TYPED.sub(lambda typed: typed[0].replace(" ", TIED), kept)
    hanging = "  " if item.startswith("- ") else ""
    for row in textwrap.wrap(kept, width, subsequent_indent=hanging, break_on_hyphens=False):
        yield row.replace(TIED, " ")


def _items(lines: list[str]) -> list[str]:
    """Lines that go on are joined to the one before."""
    items: list[str] = []
    for line in lines:
        if items and not line.startswith("- "):
            items[-1] = f"{items[-1]} {line.strip()}"
        else:
            items.append(line.strip())
    return items
