"""Ceilings of scales and of tonguing: players whose ceilings are known, counts by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from random import Random
from statistics import median

import pytest

from coach.core.profile.ceilings import FEWEST_NOTES, FEWEST_TAKES, ceilings_of
from coach.core.review import beliefs_on
from tests.bed.practised import FIRST_DAY, Row, practised


def takes(count: int = 12, **more) -> list[Row]:
    """Clean up to 100 clicks a minute, half of the notes at 115."""
    tempi = [85 + 30 * k / (count - 1) for k in range(count)]
    clean = [32 if bpm <= 100 else round(32 - 16 * (bpm - 100) / 15) for bpm in tempi]
    return [
        Row(FIRST_DAY, "p", bpm, good, 32, **more) for bpm, good in zip(tempi, clean, strict=True)
    ]


def scales(rows, day: int = FIRST_DAY):
    return ceilings_of(rows, day).scales


def test_ceilings_are_found_within_3_percent_and_say_how_sure():
    """In the middle; what the share of players is at each number of takes the benchmark tells
    (`tests.benchmarks.profile`)."""
    off, inside, players = [], 0, 40
    for seed in range(players):
        made = practised(Random(seed), 30, passages=3, apart_ln=0.02)
        (one,) = scales(made.rows, made.rows[-1].day).values()
        truth = made.kind_hz(30)
        off.append(abs(math.log(one.rate_hz / truth)))
        inside += one.low_hz <= truth <= one.high_hz
        assert (one.takes, one.passages) == (30, 3)
    assert median(off) < 0.02
    assert sum(each <= 0.03 for each in off) >= 0.7 * players
    assert 0.8 <= inside / players <= 0.98


def test_it_is_the_ceiling_of_the_passage_in_notes_a_second():
    rows = takes(notes_a_click=3.0)
    one = scales(rows)["G major"]
    (known,) = beliefs_on(rows, [FIRST_DAY])
    assert one.rate_hz == pytest.approx(known.estimate_bpm * 3 / 60, rel=0.01)
    assert one.low_hz < one.rate_hz < one.high_hz


def test_the_same_rate_in_other_notes_to_a_click_is_the_same():
    slow = [replace(row, tempo_bpm=row.tempo_bpm / 2, notes_a_click=8.0) for row in takes()]
    assert scales(slow) == scales(takes())


def test_scales_and_tonguing_are_told_apart_the_slowest_first():
    slow = takes(scale="Db major", tonguing="ta ka", notes_a_click=3.0)
    quick = takes(scale="C major", tonguing="slurred", title="C")
    other = takes(scale=None, tonguing="slurred", title="D")
    found = ceilings_of([*quick, *slow, *other], FIRST_DAY)
    assert list(found.scales) == ["Db major", "C major"]
    assert list(found.tonguing) == ["ta ka", "slurred"]
    assert (found.tonguing["slurred"].passages, found.tonguing["slurred"].takes) == (2, 24)
    plain = found.to_dict()["scales"]["C major"]
    assert plain["low"] < plain["notes_a_second"] < plain["high"]


@pytest.mark.parametrize(
    "rows",
    [
        [],
        takes()[: FEWEST_TAKES - 1],
        takes(scale=None),
        takes(notes_a_click=0.0),
        [replace(row, counted=FEWEST_NOTES - 1, clean=0) for row in takes()],
        [replace(row, day=FIRST_DAY + 1) for row in takes()],
    ],
)
def test_what_tells_too_little_is_not_told(rows):
    assert scales(rows) == {}


def test_long_ago_is_known_less_well():
    now, later = scales(takes())["G major"], scales(takes(), FIRST_DAY + 60)["G major"]
    assert later.high_hz / later.low_hz > now.high_hz / now.low_hz
