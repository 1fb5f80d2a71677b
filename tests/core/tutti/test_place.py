"""Where an excerpt lies in the whole piece, and which of its bars a recording has."""

from __future__ import annotations

from fractions import Fraction

import pytest

from coach.core.score.line import PlayedBar
from coach.core.score.model import Meter
from coach.core.tutti.bars import Positions
from coach.core.tutti.place import (
    bar_lines,
    bars_words,
    beats_to_tap,
    check_inside,
    in_recording,
    merged,
    places_wanted,
    start_in,
    sure_words,
    uneven_ms,
)
from coach.core.warp import Warp
from coach.errors import CoachError

FOUR = Meter((4,), 4)


def bars(*indices: int, pick_up: bool = False) -> tuple[PlayedBar, ...]:
    """Bars of 4/4 with these numbers; with a pick-up of one beat, bar 0, before them."""
    made, start = [], Fraction(0)
    if pick_up:
        made.append(PlayedBar(0, "0", start, Fraction(1), FOUR, Fraction(3)))
        start = Fraction(1)
    for index in indices:
        made.append(PlayedBar(index, str(index), start, Fraction(4), FOUR))
        start += 4
    return tuple(made)


def fractions(*beats: float) -> tuple[Fraction, ...]:
    return tuple(Fraction(beat) for beat in beats)


def test_an_excerpt_lies_where_its_bars_are_first_played():
    whole = bars(1, 2, 1, 2, 3, 4, pick_up=True)
    assert start_in(whole, bars(2, 3)) == 16
    assert start_in(whole, bars(1, 2)) == 4
    assert start_in(whole, whole) == 0


def test_bars_that_a_repeat_parts_are_refused():
    with pytest.raises(CoachError, match="a repeat lies between"):
        start_in(bars(1, 2, 1, 3), bars(2, 3))


def test_bar_lines_and_in_a_bar_with_a_fermata_its_beats():
    whole = bars(1, 2, pick_up=True)
    assert bar_lines(whole) == fractions(3, 4, 8, 12)
    warp = Warp(((Fraction(0), Fraction(1)),), ((Fraction(10), Fraction(2)),))
    assert places_wanted(whole, None) == fractions(3, 4, 8, 12)
    assert places_wanted(whole, warp) == fractions(3, 4, 8, 9, 10, 11, 12)


def test_every_beat_is_tapped_two_a_bar_in_six_eight():
    assert beats_to_tap(bars(1, pick_up=True)) == fractions(3, 4, 5, 6, 7)
    six = PlayedBar(1, "1", Fraction(0), Fraction(3), Meter((6,), 8))
    assert beats_to_tap((six,)) == fractions(0, 1.5)


def places(beats, sure=(), rate: int = 100) -> Positions:
    made = fractions(*beats)
    return Positions(rate, made, tuple(int(1000 + 50 * beat) for beat in made), sure)


def test_only_what_the_recording_has_is_kept():
    found = places((0, 4, 8, 12, 16, 20), (0, 0.1, 0.9, 0.8, 0.2, 0))
    kept = in_recording(found, Fraction(5), Fraction(17))
    assert kept.beats == fractions(8, 12, 16)
    assert kept.sure == (0.9, 0.8, 0.2)


@pytest.mark.parametrize("sure", [(0, 0, 0, 0), (0.5, 0.1, 0.1, 0.1, 0.4, 0), (0.1,) * 4])
def test_what_is_hardly_heard_anywhere_is_another_piece(sure):
    found = places(range(0, 4 * len(sure), 4), sure)
    with pytest.raises(CoachError, match="nothing in common"):
        in_recording(found, Fraction(0), found.beats[-1])


def test_bars_outside_are_refused_and_those_inside_named():
    whole = bars(1, 2, 3, 4, 5)
    found = places((4, 8, 12))
    assert bars_words(found, whole) == "bars 2 to 3"
    check_inside(found, whole, Fraction(4), Fraction(15))
    for first, last in ((0, 11), (4, 16)):
        with pytest.raises(CoachError, match="not in the recording") as error:
            check_inside(found, whole, Fraction(first), Fraction(last))
        assert "bars 2 to 3" in error.value.hint
    with pytest.raises(CoachError, match="after the end of this score"):
        check_inside(found, bars(1, 2), Fraction(4), Fraction(5))


def test_what_was_tapped_goes_into_what_was_found():
    known = places((0, 4, 8, 12, 16), (0.5,) * 5)
    tapped = Positions(100, fractions(8, 9, 10, 11), (1390, 1450, 1510, 1570))
    whole = merged(known, tapped)
    assert whole.beats == fractions(0, 4, 8, 9, 10, 11, 12, 16)
    assert whole.frames == (1000, 1200, 1390, 1450, 1510, 1570, 1600, 1800)
    assert whole.sure == (0.5, 0.5, 1, 1, 1, 1, 0.5, 0.5)
    far = Positions(100, fractions(40, 41), (3000, 3050))
    assert merged(known, far) == far


def test_how_sure_is_said():
    whole = bars(1, 2, 3, 4)
    assert sure_words(places((0, 4, 8, 12), (0.9, 0.8, 0.9, 0)), whole) == "all of them surely"
    assert "not surely: 2 (" in sure_words(places((0, 4, 8, 12), (0.9, 0.1, 0.9, 0)), whole)
    assert "is this piece" in sure_words(places((0, 4, 8, 12), (0.4, 0.3, 0.4, 0)), whole)


def test_how_even_taps_are():
    assert uneven_ms([1001, 1049, 1103], places((0, 1, 2))) == 10
