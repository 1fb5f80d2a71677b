"""Minutes, evenness and the click, day by day: sums by hand."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

import pytest

from coach.core.planning.facts import DayLoad
from coach.core.progress.dates import date_words, mondays, short_date, span_words
from coach.core.progress.days import (
    evenness_days,
    evenness_words,
    minutes_of,
    minutes_words,
    offset_days,
    offset_words,
)
from coach.core.progress.week import week_words
from coach.core.review import SHOWN_DAYS, Week

# 2026-11-26, a Thursday.
TODAY = 739_946


@dataclass(frozen=True)
class Figures:
    day: int
    evenness_cv: float | None = None
    offset_ms: float | None = None


def test_days_in_words():
    assert date_words(TODAY) == "26 November"
    assert short_date(TODAY) == "26 Nov"
    assert mondays(TODAY - 10, TODAY) == [TODAY - 10, TODAY - 3]
    assert [span_words(k) for k in (1, 2, 7, 14, 15, 21)] == [
        "since the day before",
        "in 2 days",
        "in a week",
        "in two weeks",
        "in 15 days",
        "in three weeks",
    ]


def test_days_without_playing_are_days_of_rest():
    loads = [DayLoad(TODAY - 40, 99), DayLoad(TODAY - 3, 20), DayLoad(TODAY, 40)]
    minutes = minutes_of(loads, TODAY)
    assert (len(minutes.days), minutes.total) == (SHOWN_DAYS, 60)
    assert minutes.rest_days == SHOWN_DAYS - 2
    words = "60 minutes on 2 days: 30 on a day of practice, 40 at most, and 26 days of rest."
    assert minutes_words(minutes) == words
    assert minutes_words(minutes_of([], TODAY)) == "Nothing was played in these weeks."


def test_a_day_has_the_mean_and_the_spread_of_its_takes():
    rows = [Figures(TODAY, 0.04), Figures(TODAY, 0.08), Figures(TODAY - 2), Figures(TODAY - 30, 1)]
    (day,) = evenness_days(rows, TODAY)
    assert (day.day, day.takes) == (TODAY, 2)
    assert (day.mean, day.low, day.high) == pytest.approx((6, 4, 8))


def evenness(*levels, spread=0.005):
    """Three weeks ago to now, twelve takes a week."""
    random = Random(3)
    return [
        Figures(TODAY - 7 * (len(levels) - 1 - week) - k % 6, random.gauss(level, spread))
        for week, level in enumerate(levels)
        for k in range(12)
    ]


@pytest.mark.parametrize(
    ("rows", "head"),
    [
        (evenness(0.08, 0.08, 0.06), "Yes: intervals off by "),
        (evenness(0.06, 0.06, 0.08), "No: intervals off by "),
        (evenness(0.06, 0.06, 0.06), "About as before: "),
        (evenness(0.06, 0.06, 0.065, spread=0.02), "About as before: "),
        (evenness(0.06), "Intervals off by "),
        (evenness(0.06)[:0], "Nothing was played in the last week."),
    ],
)
def test_whether_it_is_more_even(rows, head):
    assert evenness_words(evenness_days(rows, TODAY), TODAY).startswith(head)


def test_whether_it_is_with_the_click():
    def words(ms):
        return offset_words(offset_days([Figures(TODAY, offset_ms=ms)], TODAY), TODAY)

    assert words(4) == "Yes: 4 ms behind it in the last week."
    assert words(-22) == "Not quite: 22 ms ahead of it in the last week."


def test_the_week_in_a_line():
    week = Week(1, 12.4, 1, 0.914)
    assert week_words(week) == "1 day, 12 minutes of playing, 1 take, 91 % of the notes clean"
    assert week_words(Week(0, 0, 0, None, 30.0)) == "no practice, 30 minutes away from the coach"
    short = Week(1, 1.2, 1, 0.91, 0.8)
    assert week_words(short).startswith("1 day, 1 minute of playing, 1 take")
    assert week_words(short).endswith(", 1 minute away from the coach")
