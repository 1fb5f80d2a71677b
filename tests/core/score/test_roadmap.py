"""The order of bars.  Repeats and endings as in the MusicXML test suite's cases 45a to 45g (the
descriptions in the files say what is meant); D.C. and D.S. are common practice, no source."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.score.model import Signs
from coach.core.score.roadmap import MOST_BARS, played_order
from coach.errors import CoachError

N = Signs()
BACK = Signs(plays=2)
GO = Signs(forward=True)


def ending(*numbers, **more):
    return Signs(endings=frozenset(numbers), **more)


def order(*signs, first=1, last=None):
    return [k + 1 for k in played_order(signs, first - 1, (last or len(signs)) - 1)]


def test_a_bar_repeated_five_times_45a():
    assert order(Signs(plays=5), N) == [1, 1, 1, 1, 1, 2]


def test_two_endings_45b():
    assert order(N, ending(1, plays=2), ending(2), N) == [1, 2, 1, 3, 4]


def test_a_repeat_inside_another_45c():
    inner = [2, 3] * 5
    whole = [1, *inner, 4, 5, 6, 7]
    assert order(N, GO, Signs(plays=5), N, N, N, Signs(plays=3), N) == whole * 3 + [8]


def test_five_endings_45d():
    signs = [N, ending(1, plays=2), ending(2), ending(2), ending(2, plays=2)]
    signs += [ending(3), ending(3), ending(3), ending(3, plays=2), ending(4, plays=2), ending(5), N]
    assert order(*signs) == [1, 2, 1, 3, 4, 5, 1, 6, 7, 8, 9, 1, 10, 1, 11, 12]


def test_a_repeat_begins_in_the_second_ending_45e():
    signs = [N, ending(1, plays=2), ending(2), N, Signs(forward=True, plays=2)]
    signs += [GO, ending(1, plays=2), ending(2, forward=True), BACK, N]
    assert order(*signs) == [1, 2, 1, 3, 4, 5, 5, 6, 7, 6, 8, 9, 8, 9, 10]


def test_a_repeat_that_never_ends_is_played_once_45g():
    assert order(N, GO, N) == [1, 2, 3]


def test_a_second_repeat_without_a_beginning_goes_back_to_the_first_ones_end():
    assert order(N, BACK, N, BACK, N) == [1, 2, 1, 2, 3, 4, 3, 4, 5]


def test_one_bracket_for_two_turns_is_left_out_the_third_time():
    assert order(N, ending(1, 2, plays=2), N) == [1, 2, 1, 2, 1, 3]


def test_first_ending_alone():
    assert order(N, ending(1, plays=2), N) == [1, 2, 1, 3]


def test_minuet_da_capo_al_fine():
    minuet = [GO, BACK, GO, Signs(plays=2, fine=True)]
    trio = [GO, BACK, GO, Signs(plays=2, jump="capo")]
    once = [1, 2, 1, 2, 3, 4, 3, 4, 5, 6, 5, 6, 7, 8, 7, 8]
    assert order(*minuet, *trio) == [*once, 1, 2, 3, 4]


def test_repeats_are_played_after_the_jump_where_the_file_says_so():
    minuet = [Signs(plays=2, after_jump=True), Signs(fine=True)]
    assert order(*minuet, Signs(jump="capo")) == [1, 1, 2, 3, 1, 1, 2]


def test_dal_segno_al_coda():
    signs = [N, Signs(segno="a"), Signs(to_coda="a"), N, Signs(jump="segno", jump_label="a")]
    assert order(*signs, Signs(coda="a"), N) == [1, 2, 3, 4, 5, 2, 3, 6, 7]


def test_labels_tell_two_segnos_apart():
    signs = [N, Signs(segno="a"), N, Signs(segno="b"), Signs(jump="segno", jump_label="b"), N]
    assert order(*signs) == [1, 2, 3, 4, 5, 4, 5, 6]


def test_after_a_jump_the_last_ending_is_played():
    signs = [N, ending(1, plays=2), ending(2), Signs(fine=True), Signs(jump="capo")]
    assert order(*signs) == [1, 2, 1, 3, 4, 5, 1, 3, 4]


def test_a_jump_to_nowhere_is_passed_over():
    assert order(N, Signs(jump="segno", jump_label="x"), N) == [1, 2, 3]


@pytest.mark.parametrize(
    ("first", "last", "expected"),
    [
        (2, 4, [2, 3, 4]),  # the repeat began before: once, up to the first ending
        (2, 5, [2, 3, 5]),  # with both endings: the last one
        (1, 4, [1, 2, 3, 4]),  # the second ending is cut off
        (1, 5, [1, 2, 3, 4, 1, 2, 3, 5]),
        (4, 4, [4]),
        (5, 5, [5]),
    ],
)
def test_a_selection_is_a_piece_of_its_own(first, last, expected):
    signs = [N, N, N, ending(1, plays=2), ending(2), N]
    assert order(*signs, first=first, last=last) == expected


def test_a_selection_from_the_middle_does_not_go_da_capo():
    assert order(N, N, Signs(jump="capo"), first=2) == [2, 3]


def test_absurd_repeats_are_one_clear_error():
    with pytest.raises(CoachError, match=f"more than {MOST_BARS} bars"):
        order(Signs(plays=10**6), N)


SIGNS = st.builds(
    Signs,
    forward=st.booleans(),
    plays=st.sampled_from([0, 0, 0, 2, 3]),
    after_jump=st.booleans(),
    endings=st.sampled_from([frozenset(), frozenset(), frozenset({1}), frozenset({2})]),
    segno=st.sampled_from(["", "a"]),
    coda=st.sampled_from(["", "a"]),
    fine=st.booleans(),
    to_coda=st.sampled_from(["", "a"]),
    jump=st.sampled_from(["", "", "capo", "segno"]),
)


@given(st.lists(SIGNS, min_size=1, max_size=10), st.data())
def test_any_signs_give_an_order_inside_the_selection(signs, data):
    first = data.draw(st.integers(0, len(signs) - 1))
    last = data.draw(st.integers(first, len(signs) - 1))
    try:
        made = played_order(signs, first, last)
    except CoachError:
        return
    assert all(first <= k <= last for k in made)


@given(st.integers(1, 12))
def test_without_signs_bars_are_played_in_order(count):
    assert played_order([N] * count, 0, count - 1) == tuple(range(count))
