"""A take that is played back: the same picture as while playing, with its speed."""

from __future__ import annotations

import io
from dataclasses import replace

import pytest
from rich.console import Console

from coach.core.gate import Gate, start
from coach.core.judge import judge_take
from coach.core.playback import whereabouts
from coach.core.rules import Rules
from coach.core.take import Take
from coach.core.view import View
from coach.screen.beside import beside
from coach.screen.choice import make_screen
from coach.screen.strip import playing_lines
from coach.screen.words import speed_words
from tests.making import attacks_of, plan_of, scale

PLAN = plan_of(scale(60, 12), tempo_bpm=72.0)


def report_of(late, missing=()):
    attacks = [a for k, a in enumerate(attacks_of(PLAN, late)) if k not in missing]
    return judge_take(Take(1, PLAN, tuple(attacks), (), False), Rules())


REPORT = report_of({3: 1_920})


def view_at(note: int) -> View:
    frame = PLAN.dues[note].frame + 4_000
    view = View("A scale", "playing", PLAN, 0, None, (), start(72, 72), Gate(), take=31, speed=0.5)
    return replace(view, **whereabouts(PLAN, REPORT, frame))


@pytest.mark.parametrize("size", [(80, 24), (100, 30), (60, 12), (160, 50)])
def test_the_picture_tells_the_speed_in_place_of_the_way_to_the_goal(size):
    width, height = size
    lines = [line.plain for line in playing_lines(view_at(4), *size, rules=Rules())]
    text = "\n".join(lines)
    assert len(lines) <= height
    assert all(len(line) <= width for line in lines)
    assert "take 31" in text
    assert "clean 4 of 5" in text
    assert "late" in text
    assert "passes in a row" not in text
    assert "played back at half speed" in text


def test_each_hearing_has_its_line_of_text():
    out = io.StringIO()
    with make_screen(plain=True, stream=out) as screen:
        for speed in (0.5, 0.75):
            plan = replace(PLAN)
            for note in (2, 4, 11):
                screen.draw(replace(view_at(note), plan=plan, speed=speed))
    assert out.getvalue().splitlines() == [
        "A scale, take 31 at 72, played back at half speed.",
        "  note 4 (C5): late by 40 ms",
        "A scale, take 31 at 72, played back at three quarters of the speed.",
        "  note 4 (C5): late by 40 ms",
    ]


def test_speeds_in_words():
    assert [speed_words(s) for s in (0.25, 0.5, 0.6, 1.0)] == [
        "a quarter of the speed",
        "half speed",
        "0.6 of the speed",
        "full speed",
    ]


def test_two_takes_side_by_side_without_colour():
    other = report_of({}, missing=(5,))
    out = io.StringIO()
    page = beside(("take 7", other), ("take 31", REPORT), PLAN.exercise)
    Console(file=out, width=80, no_color=True).print(page)
    lines = [line.split() for line in out.getvalue().splitlines()]
    assert lines[0] == ["note", "take", "7", "take", "31"]
    assert len(lines) == 13
    assert lines[4] == ["4", "C5", "┃", "●", "clean", "0", "▶", "late", "+40"]
    assert lines[6] == ["6", "E5", "┃", "○", "missed", "●", "clean", "0"]
    assert lines[1] == ["1", "G4", "●", "clean", "0", "●", "clean", "0"]
    assert max(len(line) for line in out.getvalue().splitlines()) <= 80
