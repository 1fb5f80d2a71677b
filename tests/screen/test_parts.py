"""Font, ruler, score, words, page: the parts that the pictures are made of."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from rich.text import Text

from coach.core.exercise import Exercise
from coach.core.gate import Gate, Pace
from coach.core.passage import Note, Passage, in_a_row
from coach.core.timeline import plan_take
from coach.core.verdicts import intervals_frames
from coach.core.view import TakeLine
from coach.screen.font import _GLYPHS, big, big_note
from coach.screen.page import Block, fit
from coach.screen.path import path_lines
from coach.screen.ruler import REACH_MS, odd, ruler, scale_line, tolerances_ms
from coach.screen.score import score_of
from coach.screen.words import (
    Spelling,
    fault_line,
    next_words,
    offset_words,
    outcome_line,
    percent,
    printable,
    signed,
    standing_of,
)
from tests.screen import views


@pytest.mark.parametrize("letter", _GLYPHS)
def test_glyphs_are_whole(letter: str) -> None:
    rows = _GLYPHS[letter].split()
    assert len(rows) == 6
    assert len({len(row) for row in rows}) == 1


def test_glyphs_differ() -> None:
    assert len(set(_GLYPHS.values())) == len(_GLYPHS)


def test_big_is_three_rows_and_double_is_six() -> None:
    assert big("1") == ("▄█ ", " █ ", "▄█▄")
    assert [len(big("72", scale)) for scale in (1, 2)] == [3, 6]
    assert len(big("7", 2)[0]) == 2 * len(big("7")[0])


def test_octave_stands_beside_the_foot() -> None:
    rows = big_note("Bb4")
    assert [row[-1] for row in rows] == [" ", " ", "4"]
    assert len({len(row) for row in big_note("C-1")}) == 1


def _shape_at(off_ms: float, width: int = 41) -> int:
    plan = views.plan(1)
    judge, _ = views.judged(plan, faults={})
    verdict = replace(judge.report().verdicts[0], deviation_frames=off_ms * views.RATE / 1000)
    return ruler(verdict, views.RATE, 20.0, width).plain.index("●")


def test_early_is_left_and_late_is_right() -> None:
    assert _shape_at(-20.0) < 20 < _shape_at(20.0)
    assert _shape_at(0.0) == 20
    assert _shape_at(20.0) - 20 == 20 - _shape_at(-20.0)


def test_far_off_stays_on_the_ruler() -> None:
    assert _shape_at(REACH_MS) == _shape_at(400.0) == 40
    assert _shape_at(-400.0) == 0


def test_a_missed_note_has_no_shape_on_its_ruler() -> None:
    judge, _ = views.judged(views.plan(1))
    missed = judge.report().verdicts[9]
    assert missed.kind == "missed"
    assert ruler(missed, views.RATE, 25.0, 21).plain == "·····─────┼─────·····"


@pytest.mark.parametrize("width", [11, 15, 17, 41, 81])
def test_scale_is_as_wide_as_the_ruler(width: int) -> None:
    heading = scale_line(width)
    assert len(heading) == width
    assert heading.startswith("early")
    assert heading.endswith("late")


def test_odd() -> None:
    assert [odd(n) for n in (20, 21)] == [19, 21]


def test_tolerance_is_that_of_the_rules() -> None:
    """The smaller of 25 ms and 20 % of the interval: 75 ms notes allow 15 ms."""
    slow, fast = views.plan(1, 60.0), views.plan(1, 200.0)
    assert intervals_frames([d.frame for d in fast.dues], [1] * 16)[3] == 3600
    assert tolerances_ms(slow.dues, views.RULES, views.RATE)[3] == pytest.approx(25)
    assert tolerances_ms(fast.dues, views.RULES, views.RATE)[3] == pytest.approx(15)


def _groups(lengths: str, count: int, pulse: str = "1", bar: str = "4") -> list[int]:
    notes = in_a_row([60] * count, Fraction(lengths))
    passage = Passage(notes, bar_beats=Fraction(bar), pulse_beats=Fraction(pulse))
    plan = plan_take(Exercise(passage, 60), views.RATE, views.DOWNBEAT)
    return [len(group) for group in score_of(plan, views.RULES).groups]


@pytest.mark.parametrize(
    ("lengths", "count", "pulse", "bar", "expected"),
    [
        ("1/4", 8, "1", "4", [4, 4]),
        ("1/6", 12, "1", "4", [6, 6]),
        ("1/2", 8, "1", "4", [4, 4]),
        ("1", 8, "1", "4", [4, 4]),
        ("1", 6, "1", "3", [3, 3]),
        ("1/12", 12, "1", "4", [6, 6]),
        ("1/2", 6, "3/2", "3", [3, 3]),
    ],
)
def test_notes_of_a_click_stand_together(
    lengths: str, count: int, pulse: str, bar: str, expected: list[int]
) -> None:
    assert _groups(lengths, count, pulse, bar) == expected


def test_written_names() -> None:
    """Horn in F is written a fifth above its sound (any orchestration handbook): sounding F4 (65)
    is written C5."""
    score = score_of(views.plan(), views.RULES)
    assert Spelling(-7).name(65) == "C5"
    # Without a signature too a horn player reads B flat and E flat, and F sharp.
    assert [Spelling(0).name(midi) for midi in (70, 63, 66)] == ["Bb4", "Eb4", "F#4"]
    assert [Spelling(0, 5).name(midi) for midi in (70, 63)] == ["A#4", "D#4"]
    assert score.names[:4] == ("G4", "A4", "Bb4", "C5")
    assert (score.last_bar, score.bar_of[15], score.bar_of[16]) == (2, 1, 2)


def test_standing_leaves_unsure_notes_out() -> None:
    judge, _ = views.judged(views.plan())
    standing = standing_of(judge.report().verdicts, views.GATE, 32)
    assert (standing.clean, standing.judged, standing.notes) == (24, 31, 31)
    assert standing.needed == 28  # the smallest whole number of 31 that is 90 % or more
    assert standing.may_slip == -4


def test_standing_agrees_with_the_gate() -> None:
    for notes in range(1, 60):
        needed = standing_of((), Gate(0.9), notes).needed
        assert Gate(0.9).passed(needed / notes)
        assert not Gate(0.9).passed((needed - 1) / notes)


def test_figures() -> None:
    assert [signed(v) for v in (31.4, -0.4, 0.3, -28.0, None)] == ["+31", "0", "0", "-28", ""]
    assert [percent(v) for v in (0.8999, 0.9, 1.0)] == ["89 %", "90 %", "100 %"]
    words = [offset_words(v) for v in (1.2, -3.0, 0.3, -0.4)]
    assert words[:2] == ["1 ms behind the click as a whole", "3 ms ahead of the click as a whole"]
    assert words[2:] == ["on the click as a whole"] * 2
    assert printable("a\x1b[31mb\n") == "a [31mb "


def test_fault_lines() -> None:
    verdicts = views.judged(views.plan())[0].report().verdicts
    lines = [fault_line(verdicts[k], Spelling(-7, -1), views.RATE) for k in (3, 9, 13)]
    assert lines == [
        "note 4 (C5): late by 30 ms",
        "note 10 (F4): missed",
        "note 14 (D5): wrong, heard E5",
    ]


@pytest.mark.parametrize(
    ("pace", "words"),
    [
        (Pace(67.5, 60, 96), "Next: up to 67.5."),
        (Pace(62.4, 60, 96), "Next: back to 62.4."),
        (Pace(64.9, 60, 96, 0, 1), "Next: 64.9 again."),
        (Pace(64.9, 60, 96, 1, 0), "Next: 64.9 again, 1 more to go up."),
        (Pace(64.9, 60, 96, 2, 0), "Next: 64.9 again."),
        (Pace(64.9, 60, 96, 3, 0), "Next: 64.9 again."),
        (Pace(96, 60, 96, 2, 0, True), "The goal of 96 is reached."),
    ],
)
def test_what_comes_next(pace: Pace, words: str) -> None:
    assert next_words(replace(views.rest(), pace=pace)) == words


def test_outcome_before_the_first_take_is_empty() -> None:
    assert outcome_line(views.count_in()) == ""


def test_path_shows_the_latest_takes_that_fit() -> None:
    path = [TakeLine(n, 60.0 + n, 1.0, n % 2 == 0) for n in range(1, 30)]
    rising, numbers = path_lines(path, Pace(90, 60, 96), 60, next_too=True)
    assert numbers.plain.rstrip().endswith("88+    89-    90")
    assert "61" not in numbers.plain
    assert rising.cell_len <= 60 >= numbers.cell_len


def test_fit_drops_the_least_important_first() -> None:
    blocks = [Block([Text("a")]), Block([Text("b")] * 3, rank=2), Block([Text("c")], rank=1)]
    assert [t.plain for t in fit(blocks, 7)] == ["a", "", "b", "b", "b", "", "c"]
    assert [t.plain for t in fit(blocks, 6)] == ["a", "", "b", "b", "b", "c"]
    assert [t.plain for t in fit(blocks, 2)] == ["a", "c"]
    assert [t.plain for t in fit(blocks, 1)] == ["a"]


def test_a_passage_with_rests_and_one_note() -> None:
    passage = Passage((Note(60, Fraction(2), Fraction(1)),))
    plan = plan_take(Exercise(passage, 60), views.RATE, views.DOWNBEAT)
    assert score_of(plan, views.RULES).groups == (range(1),)
