"""Marks and colours."""

from __future__ import annotations

import pytest

from coach.core.take import VERDICTS
from coach.screen.style import MARKS, OKABE_ITO

# M. Okabe, K. Ito: Color Universal Design (2008), the red, green, blue column of their table (from
# memory), all eight colours.
PUBLISHED_RGB = {
    "black": (0, 0, 0),
    "orange": (230, 159, 0),
    "sky blue": (86, 180, 233),
    "bluish green": (0, 158, 115),
    "yellow": (240, 228, 66),
    "blue": (0, 114, 178),
    "vermillion": (213, 94, 0),
    "reddish purple": (204, 121, 167),
}


def _rgb(code: str) -> tuple[int, int, int]:
    return int(code[1:3], 16), int(code[3:5], 16), int(code[5:7], 16)


def _luminance(rgb: tuple[int, int, int]) -> float:
    """Relative luminance as WCAG 2.1 defines it."""
    parts = [c / 255 for c in rgb]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("name", OKABE_ITO)
def test_palette_is_the_published_one(name: str) -> None:
    assert _rgb(OKABE_ITO[name]) == PUBLISHED_RGB[name]


@pytest.mark.parametrize("name", OKABE_ITO)
def test_shapes_stand_out_on_black(name: str) -> None:
    """WCAG 2.1, 1.4.11: graphical objects need a contrast of 3 to 1."""
    assert (_luminance(_rgb(OKABE_ITO[name])) + 0.05) / 0.05 >= 3


def test_every_verdict_of_the_contract_has_its_own_shape_and_letter() -> None:
    assert set(MARKS) == set(VERDICTS)
    assert len({mark.shape for mark in MARKS.values()}) == len(VERDICTS)
    assert len({mark.letter for mark in MARKS.values()}) == len(VERDICTS)


@pytest.mark.parametrize("kind", VERDICTS)
def test_letter_is_in_its_word(kind: str) -> None:
    assert MARKS[kind].letter.lower() in kind
    assert len(MARKS[kind].shape) == 1
