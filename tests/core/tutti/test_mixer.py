"""The mixer: keys pressed in any order keep it sane, and each does what it says."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.tutti.ensemble import Ensemble, Sounded, Voice
from coach.core.tutti.mixer import (
    COMMANDS,
    LOUDEST_DB,
    SOFTEST_DB,
    Mix,
    bass_alone,
    commanded,
    everybody,
    first_mix,
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
