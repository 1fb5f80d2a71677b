"""How verdicts look: a shape, a letter and a colour each.

Shape and letter carry the meaning; the colour says only what kind of fault it is (time, pitch or
sound).  Colours: the palette for all kinds of colour vision of M. Okabe and K. Ito, "Color
Universal Design" (2008); yellow and dark blue are left out, being faint on white or on black.
"""

from __future__ import annotations

from dataclasses import dataclass

from rich.style import Style

OKABE_ITO = {
    "orange": "#E69F00",
    "sky blue": "#56B4E9",
    "bluish green": "#009E73",
    "vermillion": "#D55E00",
    "reddish purple": "#CC79A7",
}

PLAIN = Style()
BOLD = Style(bold=True)
DIM = Style(dim=True)
GOOD = Style(color=OKABE_ITO["bluish green"])
NOW = Style(bold=True, color=OKABE_ITO["sky blue"])


@dataclass(frozen=True, slots=True)
class Mark:
    """`shape` stands on rulers and in tables, `letter` in the overview of a take."""

    shape: str
    letter: str
    style: Style


def _colour(name: str) -> Style:
    return Style(color=OKABE_ITO[name], bold=True)


MARKS = {
    "clean": Mark("●", "c", GOOD),
    "early": Mark("◀", "E", _colour("sky blue")),
    "late": Mark("▶", "L", _colour("orange")),
    "missed": Mark("○", "M", _colour("vermillion")),
    "wrong": Mark("×", "W", _colour("reddish purple")),
    "split": Mark("◆", "S", _colour("reddish purple")),
    # F: missed has the M already.
    "muffled": Mark("▂", "F", _colour("vermillion")),
    "unsure": Mark("?", "U", DIM),
}
