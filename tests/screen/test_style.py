"""Marks and colours."""

from __future__ import annotations

from itertools import combinations

import pytest

from coach.core.take import VERDICTS
from coach.files.configs import data_folder
from coach.screen.style import MARKS, OKABE_ITO
from tests.page.test_palette import SIGHTS, seen_apart

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


@pytest.mark.parametrize("sight", SIGHTS)
def test_kinds_of_fault_are_told_apart_by_the_colour_blind(sight: str) -> None:
    """The published palette is made for it; its closest two that are used lie 18 apart (CIE76),
    and shape and letter say it as well."""
    colours = {mark.style.color.name for mark in MARKS.values() if mark.style.color}
    assert len(colours) == 4  # clean, time, pitch, sound
    for one, other in combinations(sorted(colours), 2):
        assert seen_apart(one, other, SIGHTS[sight]) >= 15, (one, other)


def test_a_fault_is_coloured_by_its_kind() -> None:
    """Time, pitch or sound, and no more than that: early and late have one colour."""
    kinds = (("early", "late"), ("wrong", "split"), ("missed", "muffled"))
    assert all(MARKS[one].style == MARKS[other].style for one, other in kinds)


def test_every_verdict_of_the_contract_has_its_own_shape_and_letter() -> None:
    assert set(MARKS) == set(VERDICTS)
    assert len({mark.shape for mark in MARKS.values()}) == len(VERDICTS)
    assert len({mark.letter for mark in MARKS.values()}) == len(VERDICTS)


@pytest.mark.parametrize("kind", VERDICTS)
def test_the_help_explains_every_sign_of_the_row(kind: str) -> None:
    topic = (data_folder("configs") / "topics" / "screen.toml").read_text(encoding="utf-8")
    mark = MARKS[kind]
    assert f"{mark.shape if kind == 'clean' else mark.letter} {kind}" in topic


@pytest.mark.parametrize("kind", VERDICTS)
def test_letter_is_in_its_word(kind: str) -> None:
    assert MARKS[kind].letter.lower() in kind
    assert len(MARKS[kind].shape) == 1
