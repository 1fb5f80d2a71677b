"""Is it getting faster: players whose clean tempo is known."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.progress.climb import climb_of, climb_words
from coach.core.review import SHOWN_DAYS, beliefs_on, review_of
from tests.core.test_review import TODAY, Row, takes


def standing_of(rows, goal=120.0, due_day=None):
    (found,) = review_of(rows, TODAY, {"run": ("Run", goal)} if goal else {}).passages
    return replace(found, due_day=due_day)


def climb(rows, goal=120.0, due_day=None):
    return climb_of(rows, standing_of(rows, goal, due_day), TODAY)


def test_each_day_of_practice_has_its_ceiling():
    rows = [*takes(TODAY - 20, 80), *takes(TODAY - 6, 90), *takes(TODAY - 1, 100)]
    made = climb(rows)
    assert [one.day for one in made.ceilings] == [TODAY - 20, TODAY - 6, TODAY - 1]
    assert [one.bpm for one in made.ceilings] == pytest.approx([80, 90, 100], rel=0.07)
    assert all(one.low_bpm < one.bpm < one.high_bpm for one in made.ceilings)
    assert len(made.takes) == len(rows)


def test_ceilings_from_one_pass_are_those_of_single_days():
    rows = [*takes(TODAY - 12, 84), *takes(TODAY - 8, 88), *takes(TODAY - 3, 92), *takes(TODAY, 95)]
    for one in climb(rows).ceilings:
        (known,) = beliefs_on([row for row in rows if row.day <= one.day], [one.day])
        expected = (known.estimate_bpm, *known.interval_bpm())
        assert (one.bpm, one.low_bpm, one.high_bpm) == pytest.approx(expected, rel=0.03)


def test_the_last_ceiling_is_the_one_in_the_terminal():
    rows = [*takes(TODAY - 9, 80), *takes(TODAY - 1, 96)]
    assert climb(rows).ceilings[-1].bpm == standing_of(rows).ceiling_bpm


def test_takes_of_a_day_lie_side_by_side_within_it():
    made = climb(takes(TODAY - 2, 90, count=9))
    places = [take.at_day - (TODAY - 2) for take in made.takes]
    assert places == pytest.approx([k / 10 for k in range(1, 10)])


@pytest.mark.parametrize(
    ("ceilings", "goal", "due", "words"),
    [
        ({20: 80, 14: 80, 0: 100}, 120, None, "Yes: 80 → 100 in two weeks; goal 120."),
        ({7: 80, 0: 100}, 95, 9, "Yes: 80 → 100 in a week; the goal 95 is reached, due 3 May."),
        ({7: 100, 0: 80}, None, None, "No, slower: 100 → 80 in a week."),
        ({1: 90, 0: 90}, None, None, "It is where it was: 90 → 90 since the day before."),
        ({0: 90}, 120, None, "One day does not tell yet: the ceiling is 90; goal 120."),
    ],
)
def test_it_is_told_in_a_sentence(ceilings, goal, due, words):
    rows = [row for ago, bpm in ceilings.items() for row in takes(TODAY - ago, bpm)]
    made = climb(rows, goal, None if due is None else TODAY + due)
    rounded = {one.day: float(ceilings[TODAY - one.day]) for one in made.ceilings}
    exact = tuple(replace(one, bpm=rounded[one.day]) for one in made.ceilings)
    assert climb_words(replace(made, ceilings=exact)) == words


def test_a_day_that_is_over_presses_no_more():
    assert climb(takes(TODAY, 90), due_day=TODAY - 1).due_day is None
    assert climb(takes(TODAY, 90), due_day=TODAY).due_day == TODAY


@settings(max_examples=15)
@given(
    st.lists(st.tuples(st.integers(0, 60), st.integers(0, 16)), min_size=1, max_size=12),
    st.integers(0, 2**32),
)
def test_whatever_was_played_lies_within_the_days_shown(pairs, seed):
    random = Random(seed)
    rows = [
        Row(TODAY - ago, tempo_bpm=random.uniform(40, 160), clean=clean)
        for ago, clean in sorted([*pairs, (0, 8)], reverse=True)
    ]
    made = climb(rows)
    first = TODAY - SHOWN_DAYS + 1
    assert all(first <= one.day <= TODAY for one in made.ceilings)
    assert [one.day for one in made.ceilings] == sorted({one.day for one in made.ceilings})
    assert all(first < take.at_day < TODAY + 1 for take in made.takes)
    assert climb_words(made).endswith(".")


def test_days_with_many_takes_all_have_their_ceiling():
    """Of each day some takes are enough: as near to the truth as the interval says."""
    rows = [row for ago in range(20, -1, -1) for row in takes(TODAY - ago, 100 - ago, count=40)]
    made = climb(rows)
    assert len(made.ceilings) == 21
    held = [one.low_bpm <= 100 - (TODAY - one.day) <= one.high_bpm for one in made.ceilings]
    assert sum(held) >= 17
