"""Pitch against equal temperament and the horn's transposition."""

from __future__ import annotations

import mir_eval
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.pitch import (
    cents_between,
    hz_of_midi,
    midi_of_hz,
    midi_of_name,
    name_of_midi,
    sounding_of_written,
    written_of_sounding,
)

# Equal temperament at A4 = 440 Hz (ISO 16), as a table of frequencies to 0.0001 Hz gives it.
TABLE_HZ = {
    29: 43.6535,
    30: 46.2493,
    34: 58.2705,
    35: 61.7354,
    36: 65.4064,
    41: 87.3071,
    46: 116.5409,
    52: 164.8138,
    58: 233.0819,
    60: 261.6256,
    65: 349.2282,
    69: 440.0,
    72: 523.2511,
    77: 698.4565,
    82: 932.3275,
}
# Horn in F sounds a fifth below the written note (Wikibooks, Horn/Technique/Transposition):
# written name, sounding MIDI number, hertz.
HORN_IN_F = [
    ("C4", 53, 174.614),
    ("G4", 60, 261.626),
    ("C6", 77, 698.456),
    ("F#2", 35, 61.735),
    ("C2", 29, 43.654),
]


@pytest.mark.parametrize(("midi", "hz"), TABLE_HZ.items())
def test_hertz_as_printed(midi, hz):
    assert hz_of_midi(midi) == pytest.approx(hz, abs=6e-5)
    assert midi_of_hz(hz) == pytest.approx(midi, abs=1e-4)


def test_hertz_as_in_the_reference_library():
    midi = np.arange(0, 127, 0.25)
    ours = [hz_of_midi(m) for m in midi]
    np.testing.assert_allclose(ours, mir_eval.util.midi_to_hz(midi), rtol=1e-12)
    np.testing.assert_allclose([midi_of_hz(hz) for hz in ours], midi, atol=1e-9)


@pytest.mark.parametrize(("written", "sounding", "hz"), HORN_IN_F)
def test_horn_in_f(written, sounding, hz):
    assert sounding_of_written(midi_of_name(written), -7) == sounding
    assert written_of_sounding(sounding, -7) == midi_of_name(written)
    assert hz_of_midi(sounding) == pytest.approx(hz, abs=1e-3)


def test_cents():
    # A pure fifth is 701.955 cents, partials 4 and 5 lie 386.314 apart (any acoustics handbook).
    assert cents_between(3, 2) == pytest.approx(701.955, abs=1e-3)
    assert cents_between(5, 4) == pytest.approx(386.314, abs=1e-3)
    assert cents_between(440, 440) == 0


@pytest.mark.parametrize(
    ("name", "midi"),
    [
        ("C4", 60),
        ("A4", 69),
        ("Bb3", 58),
        ("B♭3", 58),
        ("F##2", 43),
        ("Cb4", 59),
        ("B#3", 60),
        ("c-1", 0),
    ],
)
def test_names(name, midi):
    assert midi_of_name(name) == midi


@pytest.mark.parametrize("name", ["", "H4", "C", "4", "C4x", "C#b4", "Bb10", "C 4", "♭4"])
def test_no_names(name):
    with pytest.raises(ValueError, match="not a note name"):
        midi_of_name(name)


@given(st.integers(0, 119), st.integers(-7, 7))
def test_names_there_and_back(midi, fifths):
    name = name_of_midi(midi, fifths)
    assert midi_of_name(name) == midi
    assert "#" not in name if fifths < 0 else "b" not in name
