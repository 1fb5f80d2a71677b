"""The mixer: keys pressed in any order keep it sane, and each does what it says."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.tutti.ensemble import Ensemble, Sounded, Voice
from coach.core.tutti.mixer import (
    COMMANDS,
    LOUDEST_DB,
    SIDE_COMMANDS,
    SOFTEST_DB,
    Mix,
    bass_alone,
    commanded,
    everybody,
    first_mix,
    further_left,
    further_right,
    louder,
    mean_pitch,
    neighbours_only,
    next_voice,
    softer,
    solo,
)


def voice(*pitches: int) -> Voice:
    notes = (Sounded(Fraction(k), Fraction(1), pitch) for k, pitch in enumerate(pitches))
    return Voice("invented", 60, tuple(notes))


# flute, a part that rests, the own horn, another horn, cello, and a bass that rests
PARTS = (voice(84, 86), voice(), voice(65), voice(60, 58), voice(48), voice())
BAND = Ensemble(PARTS, own=2, length_beats=Fraction(4))


def heard(mix: Mix) -> set[int]:
    return {k for k in range(len(mix.levels_db)) if mix.gain(k) > 0}


@given(st.lists(st.sampled_from(COMMANDS), max_size=60))
def test_any_keys_in_any_order_leave_a_mix_that_can_be_played(keys):
    mix = first_mix(BAND)
    for key in keys:
        mix = commanded(mix, key, BAND)
        assert 0 <= mix.chosen < len(PARTS)
        assert all(SOFTEST_DB <= level <= LOUDEST_DB for level in mix.levels_db)
        assert heard(mix) == (set(mix.solo) or set(range(len(PARTS))) - mix.muted)
        assert len(mix.levels_db) == len(PARTS)
        assert all(-1 <= mix.pan(k) <= 1 for k in range(len(PARTS)))
        assert mix.wide == any(mix.pan(k) for k in range(len(PARTS)))


@given(st.lists(st.sampled_from(COMMANDS), max_size=20), st.sampled_from(["mute", "solo"]))
def test_the_same_key_again_takes_it_back(keys, key):
    mix = first_mix(BAND)
    for before in keys:
        mix = commanded(mix, before, BAND)
    assert commanded(commanded(mix, key, BAND), key, BAND) == mix
    assert commanded(mix, key, BAND) != mix


def test_at_first_all_but_the_own_part_sound():
    mix = first_mix(BAND)
    assert heard(mix) == {0, 1, 3, 4, 5}
    assert mix.chosen == 0
    assert first_mix(BAND, own_db=-12.0).gain(2) == pytest.approx(0.2512, abs=1e-4)


def test_louder_and_softer_move_the_chosen_voice_alone():
    mix = louder(next_voice(first_mix(BAND)))
    assert mix.levels_db == (0.0, 3.0, 0.0, 0.0, 0.0, 0.0)
    assert softer(mix).levels_db == (0.0,) * 6


@given(st.floats(-1, 1))
def test_a_voice_is_as_loud_wherever_it_is(pan):
    """Constant power: the default pan formula of the MIDI makers (RP-036), 3 dB up."""
    left, right = Mix((0.0,), pans=(pan,)).sides(0)
    assert left**2 + right**2 == pytest.approx(2)
    angle = math.pi / 4 * (1 + pan)
    assert left == pytest.approx(math.sqrt(2) * math.cos(angle), abs=1e-7)
    assert right == pytest.approx(math.sqrt(2) * math.sin(angle), abs=1e-7)


def test_the_middle_is_exactly_as_it_is_and_the_ends_are_silent_on_the_other_side():
    assert Mix((0.0,)).sides(0) == Mix((0.0,), pans=(0.0,)).sides(0) == (1.0, 1.0)
    assert Mix((0.0,), pans=(-1.0,)).sides(0) == (math.sqrt(2), 0.0)
    assert Mix((0.0,), pans=(1.0,)).sides(0) == (0.0, math.sqrt(2))


def test_left_and_right_move_the_chosen_voice_alone_to_either_end_and_back():
    mix = next_voice(first_mix(BAND))
    places = [mix]
    for _ in range(6):
        places.append(further_left(places[-1]))
    assert [one.pan(1) for one in places] == [0, -0.25, -0.5, -0.75, -1, -1, -1]
    assert not any(places[-1].pan(k) for k in (0, 2, 3, 4, 5))
    for _ in range(4):
        places.append(further_right(places[-1]))
    assert places[-1] == mix
    for _ in range(5):
        places.append(further_right(places[-1]))
    assert places[-1].pan(1) == 1
    assert places[-1].levels_db == mix.levels_db


def test_what_moves_a_voice_aside_is_known():
    for command in COMMANDS:
        assert commanded(first_mix(BAND), command, BAND).wide == (command in SIDE_COMMANDS)


def test_a_voice_that_is_solo_sounds_though_it_was_muted():
    mix = next_voice(next_voice(first_mix(BAND)))
    assert mix.chosen == 2
    assert heard(solo(mix)) == {2}
    assert heard(everybody(solo(mix))) == {0, 1, 3, 4, 5}


def test_neighbours_are_the_next_parts_with_notes():
    assert heard(neighbours_only(first_mix(BAND), BAND)) == {0, 3}
    alone = Ensemble(PARTS[2:3], own=0, length_beats=Fraction(4))
    assert neighbours_only(first_mix(alone), alone) == first_mix(alone)


def test_the_bass_is_the_lowest_part_that_plays_wherever_it_is_printed():
    assert heard(bass_alone(first_mix(BAND), BAND)) == {4}
    upside_down = Ensemble(PARTS[::-1], own=3, length_beats=Fraction(4))
    assert heard(bass_alone(first_mix(upside_down), upside_down)) == {1}
    doubled = Ensemble((voice(48), voice(48), voice(70)), own=2, length_beats=Fraction(4))
    assert heard(bass_alone(first_mix(doubled), doubled)) == {1}
    alone = Ensemble(PARTS[2:3], own=0, length_beats=Fraction(4))
    assert bass_alone(first_mix(alone), alone) == first_mix(alone)


def test_the_voices_are_chosen_in_turn():
    mix, chosen = first_mix(BAND), []
    for _ in range(len(PARTS) + 1):
        chosen.append(mix.chosen)
        mix = next_voice(mix)
    assert chosen == [0, 1, 2, 3, 4, 5, 0]


def test_long_notes_count_for_more_in_the_mean():
    notes = (
        Sounded(Fraction(0), Fraction(3), 40),
        Sounded(Fraction(3), Fraction(1), 60),
    )
    assert mean_pitch(Voice("invented", 43, notes)) == 45
