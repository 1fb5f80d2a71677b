"""How verdicts look: a shape, a letter and a colour each.

Shape and letter carry the meaning; the colour says only what kind of fault it is (time, pitch or
sound), on the page of pictures too.  Early and late have one colour: shape, side and word tell them
apart.  Colours: the palette for all kinds of colour vision of M. Okabe and K. Ito, "Color
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
TIME = Style(bold=True, color=OKABE_ITO["orange"])
PITCH = Style(bold=True, color=OKABE_ITO["reddish purple"])
SOUND = Style(bold=True, color=OKABE_ITO["vermillion"])


@dataclass(frozen=True, slots=True)
class Mark:
    """`shape` stands on rulers and in tables, `letter` in the overview of a take."""

    shape: str
    letter: str
    style: Style


MARKS = {
    "clean": Mark("●", "c", GOOD),
    "early": Mark("◀", "E", TIME),
    "late": Mark("▶", "L", TIME),
    "missed": Mark("○", "M", SOUND),
    "wrong": Mark("×", "W", PITCH),
    "split": Mark("◆", "S", PITCH),
    # F: missed has the M already.
    "muffled": Mark("▂", "F", SOUND),
    "unsure": Mark("?", "U", DIM),
}
