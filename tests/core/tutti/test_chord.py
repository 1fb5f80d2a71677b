"""Notes in chords."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.tutti.chord import against_chord, root_of

# Just intervals in cents: H. von Helmholtz, On the Sensations of Tone, trans. A. J. Ellis, app. XX
# (from memory; each is 1200 * log2 of its ratio).
PUBLISHED = {3: 315.641, 4: 386.314, 5: 498.045, 7: 701.955, 8: 813.686, 9: 884.359}

C_MAJOR = (60, 64, 67)


@pytest.mark.parametrize("chord", [C_MAJOR, (64, 67, 72), (55, 60, 64), (48, 60, 67, 76, 84)])
def test_a_major_triad_stands_on_its_root_in_every_inversion(chord):
    assert root_of(chord) % 12 == 0


@pytest.mark.parametrize("chord", [(57, 60, 64), (60, 64, 69), (52, 57, 60)])
def test_so_does_a_minor_triad(chord):
    assert root_of(chord) % 12 == 9


@pytest.mark.parametrize("chord", [(55, 59, 62, 65), (53, 55, 59, 62), (59, 62, 65, 67)])
def test_and_a_dominant_seventh(chord):
    assert root_of(chord) % 12 == 7


def test_two_notes():
    assert root_of((60, 67)) == 60
    assert root_of((60, 65)) == 65
    assert root_of((64, 72)) == 72


@pytest.mark.parametrize("chord", [(48, 67, 64), (48, 60, 67, 64)])
def test_the_third_of_a_major_chord_is_just_14_cents_low(chord):
    found = against_chord(0, 1, 64, 64 - 0.13686, chord)
    assert (found.root, found.semitones) == (48, 4)
    assert 400 + found.target_cents == pytest.approx(PUBLISHED[4], abs=0.001)
    assert found.just_cents == pytest.approx(0, abs=0.001)
    assert found.tempered_cents == pytest.approx(-13.686, abs=0.001)


@pytest.mark.parametrize(("pitch", "semitones"), [(67, 7), (64, 4)])
def test_published_intervals(pitch, semitones):
    found = against_chord(0, 1, pitch, pitch, [p for p in C_MAJOR if p != pitch])
    assert 100 * semitones + found.target_cents == pytest.approx(PUBLISHED[semitones], abs=0.001)


def test_published_minor_third():
    found = against_chord(0, 1, 60, 60, (57, 64))
    assert 300 + found.target_cents == pytest.approx(PUBLISHED[3], abs=0.001)


def test_alone_and_in_octaves_there_is_nothing_to_tell():
    assert against_chord(0, 1, 60, 60.1, ()) is None
    assert against_chord(0, 1, 60, 60.1, (48, 72)) is None


CHORDS = st.lists(st.integers(40, 84), min_size=1, max_size=6)


@given(CHORDS, st.integers(-12, 12))
def test_a_chord_moved_is_the_same_chord(chord, by):
    # Two roots as good as each other are told apart by which lies lower; that moves along.
    assert root_of([pitch + by for pitch in chord]) == root_of(chord) + by


@given(CHORDS, st.floats(-0.4, 0.4))
def test_the_two_places_always_lie_as_far_apart(chord, off):
    found = against_chord(0, 1, 62, 62 + off, chord)
    if found is not None:
        assert found.tempered_cents - found.just_cents == pytest.approx(found.target_cents)
        assert abs(found.target_cents) < 18
