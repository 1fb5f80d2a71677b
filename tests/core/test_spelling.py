"""Names of written notes: scales and chromatic runs as theory books have them, the rest as printed.

Scales in all keys, harmonic and melodic minor, and chromatic scales with sharps up and flats down
are common practice, no single source; the printed parts are those beside the checkout.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.passage import Passage, in_a_row
from coach.core.pitch import midi_of_name
from coach.core.spelling import spelled
from tests.benchmarks.spelling import Count, count_score


def names(text, fifths=0, transposition=0):
    pitches = [midi_of_name(name) + transposition for name in text.split()]
    passage = Passage(in_a_row(pitches, Fraction(1)), fifths=fifths)
    return " ".join(name.name for name in spelled(passage, transposition))


@given(
    pitches=st.lists(st.integers(20, 100), max_size=40),
    fifths=st.integers(-12, 12),
    transposition=st.sampled_from([0, -2, -7, -14]),
)
def test_the_name_is_that_of_the_pitch(pitches, fifths, transposition):
    found = spelled(Passage(in_a_row(pitches, Fraction(1)), fifths=fifths), transposition)
    assert [name.midi + transposition for name in found] == pitches
    assert all(abs(name.alter) <= 2 for name in found)


@pytest.mark.parametrize(
    ("fifths", "text"),
    [
        (0, "C4 C#4 D4 D#4 E4 F4 F#4 G4 G#4 A4 A#4 B4 C5"),
        (0, "C5 B4 Bb4 A4 Ab4 G4 Gb4 F4 E4 Eb4 D4 Db4 C4"),
        (-2, "G4 A4 Bb4 C5 D5 Eb5 F#5 G5 F#5 Eb5 D5 C5 Bb4 A4 G4"),
        (-2, "G4 A4 Bb4 C5 D5 E5 F#5 G5 F5 Eb5 D5 C5 Bb4 A4 G4"),
        (-3, "C4 D4 Eb4 F4 G4 Ab4 B4 C5"),
        (-6, "Gb4 Ab4 Bb4 Cb5 Db5 Eb5 F5 Gb5"),
        (6, "F#4 G#4 A#4 B4 C#5 D#5 E#5 F#5"),
        (7, "C#4 D#4 E#4 F#4 G#4 A#4 B#4 C#5"),
        (-7, "Cb4 Db4 Eb4 Fb4 Gb4 Ab4 Bb4 Cb5"),
        (5, "G#4 A#4 B4 C#5 D#5 E5 F##5 G#5"),
        (0, "D5 C#5 D5 E5 D#5 E5"),
        (-1, "F4 A4 C5 Eb5 D5 Bb4"),
        (1, "G4 F#4 E#4 F#4 G4"),
    ],
)
def test_scales_runs_and_leading_notes(fifths, text):
    assert names(text, fifths) == text
    assert names(text, fifths, -7) == text


def test_nothing_to_spell():
    assert spelled(Passage(()), -7) == ()


@pytest.mark.shared
@pytest.mark.parametrize(
    ("movement", "least"), [("Beethoven_Op.55_1", 0.99), ("Brahms_Op.73_1", 0.95)]
)
def test_printed_parts(shared_dir, movement, least):
    """More notes as printed than by the key alone.  In the second, parts are signed with four
    sharps and play in C."""
    path = shared_dir / "scores" / "orchestra" / f"{movement}.mxl"
    if not path.is_file():
        pytest.skip("no scores beside the checkout")
    total = Count()
    list(count_score(path, total))
    assert total.notes > 1000
    assert total.ours > total.plain
    assert total.ours / total.notes > least
