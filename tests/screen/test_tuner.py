"""The tuner's picture: place and words say what colour says."""

from __future__ import annotations

import io
import re

import pytest
from rich.console import Console

from coach.core.tuning import LongTone, TunerView, Tuning
from coach.screen.tuner import PlainTuner, TunerScreen, make_tuner_screen, tuner_lines

TONE = LongTone(57, 4.2, -12.1, 0.7, 1.3)


def lines_of(view, width=80, height=24):
    return [text.plain for text in tuner_lines(view, width, height, "q quit")]


def mark_at(lines):
    row = next(k for k, text in enumerate(lines) if "▼" in text)
    return lines[row].index("▼") + 1 - lines[row + 1].index("┼")


@pytest.mark.parametrize(("cents", "word"), [(-30, "too low"), (2, "in tune"), (31, "too high")])
def test_place_and_word(cents, word):
    lines = lines_of(TunerView(Tuning(), 53, cents, 2.0))
    assert any(word in text for text in lines)
    assert (mark_at(lines) > 3) == (cents > 5)
    assert (mark_at(lines) < -3) == (cents < -5)


def test_far_off_stays_on_the_ruler():
    assert mark_at(lines_of(TunerView(Tuning(), 53, 180.0))) == -mark_at(
        lines_of(TunerView(Tuning(), 53, -180.0))
    )


@pytest.mark.parametrize(("width", "height"), [(80, 24), (40, 12), (20, 5), (200, 60)])
def test_any_window(width, height):
    lines = lines_of(TunerView(Tuning(440, 53, True), 57, -7, 1, TONE, -7, "soft"), width, height)
    assert len(lines) <= height


def test_note_and_written_note_drone_and_tone_are_named():
    text = "\n".join(lines_of(TunerView(Tuning(442, 46, True), 53, 0.4, 1.0, TONE, -7)))
    for words in ("written C4", "drone on Bb2", "A4 = 442", "A3 -12.1 cents for 4.2 s", "rising"):
        assert words in text


def test_nothing_sounds():
    lines = lines_of(TunerView(Tuning()))
    assert any("play a steady note" in text for text in lines)
    assert not any("▼" in text for text in lines)


def test_no_color(monkeypatch):
    monkeypatch.setenv("NO_COLOR", "1")
    out = io.StringIO()
    console = Console(file=out, width=80, height=24, force_terminal=True)
    with TunerScreen(console) as screen:
        screen.draw(TunerView(Tuning(), 53, 1.0))
    codes = [
        c for found in re.findall(r"\x1b\[([\d;]*)m", out.getvalue()) for c in found.split(";")
    ]
    assert not [c for c in codes if c and 30 <= int(c) <= 48]


def test_plain_tells_every_tone_once():
    out = io.StringIO()
    with make_tuner_screen(plain=True, stream=out) as screen:
        assert isinstance(screen, PlainTuner)
        for view in (TunerView(Tuning()), *[TunerView(Tuning(), last=TONE, transposition=-7)] * 3):
            screen.draw(view)
    lines = out.getvalue().splitlines()
    assert len(lines) == 2
    assert "wavering by 1.3" in lines[1]
    assert "(written E4)" in lines[1]
