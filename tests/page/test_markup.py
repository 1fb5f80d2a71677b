"""What comes from outside is escaped, whatever it is."""

from __future__ import annotations

from xml.etree import ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.page.markup import Markup, joined, number, tag
from coach.page.scale import Scale, tick_words, ticks


@given(st.text(), st.text())
def test_any_text_stays_text(inside, value):
    made = ET.fromstring(tag("p", inside, tag("b", "x"), title=value))
    (child,) = made
    assert child.tag == "b"
    assert set(made.attrib) == {"title"}
    if inside.isprintable():
        assert (made.text or "") == inside
    if value.isprintable():
        assert made.get("title") == value


def test_names_and_what_is_left_out():
    made = tag("line", class_="a", stroke_width=2, viewBox="0 0 1 1", x=1.0, id=None)
    assert made == '<line class="a" stroke-width="2" viewBox="0 0 1 1" x="1"/>'
    assert tag("td") == "<td></td>"
    assert joined(None, "<", Markup("<br/>")) == "&lt;<br/>"


@pytest.mark.parametrize(
    ("value", "text"), [(0.0, "0"), (-0.001, "0"), (-0.5, "-0.5"), (12.345, "12.35"), (20.0, "20")]
)
def test_coordinates_are_short(value, text):
    assert number(value) == text


@given(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4), st.integers(2, 8))
def test_marks_on_an_axis_are_round_and_few(one, other, most):
    marks = ticks(min(one, other), max(one, other), most)
    low, high = marks[0], marks[-1]
    assert low <= min(one, other) + 1e-6
    assert high >= max(one, other) - 1e-6
    assert 2 <= len(marks) <= most + 3
    step = marks[1] - marks[0]
    digits = f"{step:.3e}"[0]
    assert digits in "125"
    scale = Scale(low, high, 300.0, 20.0)
    assert (scale(low), scale(high)) == pytest.approx((300, 20))
    assert 20 <= scale.held(high + 1) <= 300


def test_marks_in_words():
    assert [tick_words(value) for value in (-5.0, 0.5, 20.0, 0.1 + 0.2)] == [
        "−5",
        "0.5",
        "20",
        "0.3",
    ]
