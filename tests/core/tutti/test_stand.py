"""Where the conductor stands."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from coach.core.passage import MeterChange, Passage
from coach.core.timeline import frame_of, plan_take
from coach.core.tutti.stand import beats_of, place_of, stand_at
from coach.core.warp import Warp, ramp
from tests.core.tutti.simulated import DOWNBEAT, RATE, notes_of, plan_of

BEATS = st.fractions(-8, 40, max_denominator=12)
HOLDS = ((Fraction(6), Fraction(2)), (Fraction(13), Fraction(1, 2)))
WARP = Warp(
    (
        (Fraction(0), Fraction(1)),
        *ramp(Fraction(8), Fraction(12), Fraction(1), Fraction(3, 5), Fraction(1)),
        (Fraction(12), Fraction(5, 4)),
    ),
    HOLDS,
)


@given(BEATS)
def test_the_warp_turned_round(beat):
    assert beats_of(WARP, WARP.even(beat))[0] == beat


@given(st.fractions(0, 1, max_denominator=9))
def test_through_a_fermata_the_beat_stands(share):
    for beat, extra in HOLDS:
        found = beats_of(WARP, WARP.even(beat) + share * extra)
        assert found == (beat, share < 1)


@given(st.integers(0, 39), st.sampled_from([61.7, 90, 132.125]))
def test_the_frame_of_a_beat_is_that_beat(beat, tempo):
    plan = plan_of(notes_of([60] * 80), tempo, WARP)
    place, _ = place_of(plan, frame_of(plan.exercise, RATE, DOWNBEAT, Fraction(beat)))
    assert beat <= place < beat + Fraction(1, 100)


def at(plan, beats):
    return stand_at(plan, frame_of(plan.exercise, plan.rate, plan.downbeat_frame, Fraction(beats)))


# Bars 41 and 42 played, 43 and 44 and two beats of 45 rest, then again.
LINE = plan_of([*notes_of([60, 62] * 8), *notes_of([64, 65] * 4, start=Fraction(18))], first_bar=41)


def test_bars_and_beats():
    stand = at(LINE, Fraction(11, 2))
    assert (stand.bar, stand.beat, stand.beats_in_bar, stand.note) == ("42", 2, 4, 11)
    assert stand.entry_in is None


def test_the_entry_is_counted_down():
    told = [at(LINE, beat).entry_in for beat in range(8, 19)]
    assert told[0] == "2 bars 2 beats"
    assert told[1:4] == ["2 bars 1 beat", "2 bars", "1 bar 3 beats"]
    assert told[-5:] == ["1 bar", "3 beats", "2 beats", "1 beat", None]
    assert at(LINE, Fraction(35, 2)).entry_in == "1 beat"


def test_the_count_in_counts_down_too():
    stand = at(LINE, -4)
    assert (stand.bar, stand.beat, stand.entry_in) == ("", 1, "1 bar")
    assert at(LINE, -1).entry_in == "1 beat"
    assert at(LINE, 0).entry_in is None


def test_an_entry_after_the_beat():
    plan = plan_of(notes_of([60] * 4, start=Fraction(5, 2)))
    assert [at(plan, beat).entry_in for beat in (1, 2)] == ["1 beat", "now"]
    assert at(plan, Fraction(5, 2)).entry_in is None


def test_a_short_rest_is_no_entry():
    plan = plan_of([*notes_of([60]), *notes_of([62], start=Fraction(1))])
    stand = at(plan, Fraction(3, 4))
    assert (stand.entry_in, stand.note) == (None, 1)


def test_after_the_last_note():
    stand = at(LINE, 60)
    assert (stand.bar, stand.beat, stand.note, stand.entry_in) == ("46", 4, None, None)


def test_a_fermata_is_told():
    warp = Warp(((Fraction(0), Fraction(1)),), ((Fraction(2), Fraction(4)),))
    plan = plan_of(notes_of([60] * 16), warp=warp)
    held = stand_at(plan, DOWNBEAT + 4 * RATE // 2)
    assert (held.beat, held.holds) == (3, True)
    assert not at(plan, 3).holds


def test_other_meters():
    """Two bars of four quarters, then 6/8 in two dotted quarters."""
    passage = Passage(
        notes_of([60], start=Fraction(12)),
        changes=(MeterChange(Fraction(8), Fraction(3), Fraction(3, 2)),),
    )
    plan = plan_take(replace(LINE.exercise, passage=passage), RATE, DOWNBEAT)
    stand = at(plan, Fraction(19, 2))
    assert (stand.bar, stand.beat, stand.beats_in_bar, stand.entry_in) == ("3", 2, 2, "1 beat")
    assert at(plan, 7).entry_in == "1 bar 1 beat"


@given(st.integers(0, 17))
def test_the_count_is_never_longer_than_it_was(beat):
    def left(stand):
        return 99 if stand.entry_in is None else 4 * stand.entry_bars + stand.entry_beats

    if beat >= 8:
        assert left(at(LINE, beat)) == 18 - beat
