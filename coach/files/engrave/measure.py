"""Where texts stand in a picture of music, and whether they run into each other."""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass

from coach.files.engrave.marking import FIGURE_HIGH_EM, SVG, figures_em

# Of Libertinus Serif, measured with typst: small letters, and those that are wide or narrow.
LETTER_EM, WIDE_EM, NARROW_EM = 0.51, 0.79, 0.32
_PLACE = re.compile(r"translate\(([-\d.]+) ([-\d.]+)\)")


@dataclass(frozen=True, slots=True)
class Placed:
    """A text from `left` to `right` on the line `y`, in the picture's own units."""

    kind: str
    text: str
    left: float
    right: float
    y: float
    size: float


def texts_of(svg: str) -> list[Placed]:
    """Fingerings ("fing") and syllables ("syl") in order."""
    groups = ET.fromstring(svg).iter(f"{{{SVG}}}g")
    made = (_placed(group) for group in groups if group.get("class") in ("fing", "syl"))
    return [placed for placed in made if placed is not None]


def _placed(group: ET.Element) -> Placed | None:
    text = group.find(f".//{{{SVG}}}text")
    words = "".join("".join(group.itertext()).split())
    if text is None or not words:
        return None
    size = max(float(span.get("font-size", "0px").removesuffix("px")) for span in text.iter())
    if group.get("class") == "fing":
        found = _PLACE.match(text.get("transform", ""))
        x, y = map(float, found.groups()) if found else (0.0, 0.0)
        half = figures_em(words) * size / 2
        return Placed("fing", words, x - half, x + half, y, size)
    left, y = float(text.get("x", 0)), float(text.get("y", 0))
    return Placed("syl", words, left, left + size * sum(map(_letter_em, words)), y, size)


def _letter_em(letter: str) -> float:
    if letter in "mwMW":
        return WIDE_EM
    return NARROW_EM if letter in "fijlrtI.,'-" else LETTER_EM


def syllables_touching(svg: str) -> int:
    """How many syllables have less than a fifth of their height between them and the next one."""
    placed = [text for text in texts_of(svg) if text.kind == "syl"]
    return sum(
        a.y == b.y and b.left - a.right < 0.2 * a.size
        for a, b in itertools.pairwise(sorted(placed, key=lambda text: (text.y, text.left)))
    )


def fingerings_overlapping(svg: str) -> int:
    """How many pairs of fingerings stand in each other."""
    placed = [text for text in texts_of(svg) if text.kind == "fing"]
    return sum(_overlap(a, b) for a, b in itertools.combinations(placed, 2))


def _overlap(a: Placed, b: Placed) -> bool:
    lower, upper = (a, b) if a.y > b.y else (b, a)
    over = lower.y - FIGURE_HIGH_EM * lower.size
    return a.left < b.right and b.left < a.right and over < upper.y


def fingerings_crowded(svg: str) -> int:
    """How many fingerings have less than a seventh of their height between them and the next one,
    wherever they stand: verovio puts the one above the other then, and the eye has to look for it.
    First choices and those in brackets are rows of their own."""
    placed = [text for text in texts_of(svg) if text.kind == "fing"]
    rows = ([t for t in placed if (t.text[0] == "(") is inside] for inside in (False, True))
    return sum(
        b.left - a.right < a.size / 7
        for row in rows
        for a, b in itertools.pairwise(sorted(row, key=lambda text: text.left))
    )
