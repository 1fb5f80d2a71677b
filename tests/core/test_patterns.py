"""Generators against scales, chords, signatures and partials from outside the project."""

from __future__ import annotations

from fractions import Fraction

import mido
import mir_eval
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.passage import Passage
from coach.core.patterns import lines
from coach.core.patterns.keys import (
    CHORDS,
    CHROMATIC,
    SCALES,
    Ladder,
    all_keys,
    name_of_place,
    place_of_key,
    semitones_of_partial,
    signature,
    tonic_from,
)
from coach.core.patterns.layout import Layout, lay, moved, pulse_of_meter, returning
from coach.core.pitch import midi_of_name

SIXTEENTH = Layout((Fraction(1, 4),))
# Semitones of partials 1 to 24 above the first, from a table of the harmonic series against equal
# temperament (12 * log2(n), to the nearest semitone).
PARTIALS = [
    0,
    12,
    19,
    24,
    28,
    31,
    34,
    36,
    38,
    40,
    42,
    43,
    44,
    46,
    47,
    48,
    49,
    50,
    51,
    52,
    53,
    54,
    54,
    55,
]
# The reference library's names for our chords.
QUALITY = {"major": "maj", "minor": "min", "dominant_seventh": "7", "diminished_seventh": "dim7"}


def names_to_midi(text: str) -> list[int]:
    return [midi_of_name(name) for name in text.split()]


@pytest.mark.parametrize(("ours", "theirs"), QUALITY.items())
def test_chords_as_in_the_reference_library(ours, theirs):
    bits = mir_eval.chord.QUALITIES[theirs]
    assert CHORDS[ours].up == tuple(place for place, bit in enumerate(bits) if bit)


@pytest.mark.parametrize("mode", ["major", "minor"])
def test_signatures_as_in_midi_files(mode):
    """Standard MIDI Files encode a signature as FF 59 02 sf mi, sf counting sharps or flats."""
    for key in all_keys(SCALES[mode]):
        name = key + ("m" if mode == "minor" else "")
        sharps = mido.MetaMessage("key_signature", key=name).bytes()[3]
        assert signature(key, SCALES[mode]) == (sharps - 256 if sharps > 127 else sharps)


@pytest.mark.parametrize("mode", [*SCALES.values(), *CHORDS.values()])
def test_all_keys_are_twelve(mode):
    keys = all_keys(mode)
    assert {7 * place_of_key(key) % 12 for key in keys} == set(range(12))
    assert all(abs(signature(key, mode)) <= 6 for key in keys)


def test_scales_as_in_any_theory_book():
    assert [Ladder(60, SCALES["major"].up).at(k) for k in range(8)] == names_to_midi(
        "C4 D4 E4 F4 G4 A4 B4 C5"
    )
    melodic = lines.run(SCALES["melodic_minor"].ladders(69), 7)
    assert melodic == names_to_midi("A4 B4 C5 D5 E5 F#5 G#5 A5 G5 F5 E5 D5 C5 B4 A4")
    harmonic = lines.run(SCALES["harmonic_minor"].ladders(69), 7, "up")
    assert harmonic == names_to_midi("A4 B4 C5 D5 E5 F5 G#5 A5")
    # D dorian and G mixolydian are the white keys from D and from G.
    assert lines.run(SCALES["dorian"].ladders(62), 7, "up") == names_to_midi(
        "D4 E4 F4 G4 A4 B4 C5 D5"
    )
    assert lines.run(SCALES["mixolydian"].ladders(67), 7, "down") == names_to_midi(
        "G5 F5 E5 D5 C5 B4 A4 G4"
    )


def test_partials_as_in_the_table():
    assert [semitones_of_partial(n) for n in range(1, 25)] == PARTIALS


def test_lip_slur_of_the_open_horn():
    # Open F side, written: partials 4, 5, 6, 8 are C4, E4, G4, C5 (maker's fingering chart).
    assert lines.partials(midi_of_name("C2"), [4, 5, 6, 8]) == names_to_midi("C4 E4 G4 C5")


@pytest.mark.parametrize("name", ["", "H", "c", "C#b", "Cbb", "Bb4", "C major"])
def test_no_keys(name):
    with pytest.raises(ValueError, match="not a key"):
        place_of_key(name)


@given(st.integers(-8, 12))
def test_line_of_fifths_there_and_back(place):
    assert place_of_key(name_of_place(place)) == place


@given(st.sampled_from(all_keys(SCALES["major"])), st.integers(20, 90))
def test_the_first_tonic_from_a_note(key, lowest):
    tonic = tonic_from(key, lowest)
    assert lowest <= tonic < lowest + 12
    assert (tonic - midi_of_name(f"{key}4")) % 12 == 0


def test_figures():
    ladders = SCALES["major"].ladders(60)
    thirds = lines.figures(ladders, 7, (0, 2), "up")
    assert thirds == names_to_midi("C4 E4 D4 F4 E4 G4 F4 A4 G4 B4 A4 C5 B4 D5 C5")
    inside = lines.figures(ladders, 7, (0, 2), inside=True)
    assert max(inside) == 72
    assert inside[-1] == 60
    turn = lines.figures(ladders, 2, (0, 1, 0, -1))
    assert turn == names_to_midi("C4 D4 C4 B3 D4 E4 D4 C4 E4 D4 E4 F4 D4 C4 D4 E4 C4")
    assert lines.growing(ladders[0], 4) == names_to_midi("C4 D4 C4 E4 C4 F4 C4")


@given(
    st.sampled_from(sorted(SCALES)),
    st.integers(1, 3),
    st.sampled_from(lines.DIRECTIONS),
    st.integers(40, 70),
)
def test_a_run_starts_and_ends_on_its_key_note(mode, octaves, direction, tonic):
    rungs = octaves * len(SCALES[mode].up)
    line = lines.run(SCALES[mode].ladders(tonic), rungs, direction)
    assert {line[0], line[-1]} <= {tonic, tonic + 12 * octaves}
    assert (min(line), max(line)) == (tonic, tonic + 12 * octaves)
    assert len(line) == (rungs + 1 if direction in ("up", "down") else 2 * rungs + 1)


def test_chromatic_run():
    ladder = Ladder(60, CHROMATIC)
    assert lines.run((ladder, ladder), 14, "up") == list(range(60, 75))


def test_scale_ends_on_a_longer_note_at_the_end_of_the_bar():
    line = lines.run(SCALES["major"].ladders(60), 14)
    passage = lay(line, SIXTEENTH)
    assert {n.length_beats for n in passage.notes[:-1]} == {Fraction(1, 4)}
    assert passage.notes[-1].length_beats == 1
    assert passage.end_beats == passage.length_beats == 8


def test_rhythm_slurs_and_syllables():
    layout = Layout(
        (Fraction(3, 4), Fraction(1, 4)), slur_groups=(2, 1), syllables=("ta", "ka"), hold=False
    )
    notes = lay([60, 62, 64, 65, None, 67, 67, 69], layout).notes
    assert [n.start_beats for n in notes] == [Fraction(x, 4) for x in (0, 3, 4, 7, 11, 12, 15)]
    # Groups: 60-62, 64, 65-67 (but a rest lies between), 67, ... and nothing joins onto itself.
    assert [n.slurred for n in notes] == [False, True, False, False, False, False, False]
    assert [n.syllable for n in notes] == ["ta", None, "ka", "ta", "ka", "ta", "ka"]


def test_one_slur_over_everything():
    notes = lay([60, 62, 62, 64], Layout((Fraction(1),), slur_groups=())).notes
    assert [n.slurred for n in notes] == [False, True, False, True]


@given(
    st.lists(st.integers(30, 90), min_size=1, max_size=80),
    st.lists(st.sampled_from([Fraction(1, n) for n in (1, 2, 3, 4, 6, 8)]), min_size=1, max_size=4),
    st.sampled_from([(4, 4), (3, 4), (6, 8), (5, 8), (2, 2), (7, 8)]),
)
def test_laid_out_notes_fill_whole_bars(line, rhythm, meter):
    count, unit = meter
    bar = Fraction(4 * count, unit)
    passage = lay(line, Layout(tuple(rhythm), bar, pulse_of_meter(count, unit)))
    assert [n.pitch for n in passage.notes] == line
    assert passage.end_beats == passage.length_beats
    assert passage.notes[-1].length_beats <= bar + max(rhythm)
    assert (passage.length_beats / passage.pulse_beats).denominator == 1


# Compound meters are counted in dotted notes (common music theory).
PULSES = {
    (4, 4): 1,
    (3, 4): 1,
    (2, 2): 2,
    (6, 8): Fraction(3, 2),
    (9, 8): Fraction(3, 2),
    (12, 8): Fraction(3, 2),
    (3, 8): Fraction(1, 2),
    (7, 8): Fraction(1, 2),
}


@pytest.mark.parametrize(("meter", "pulse"), PULSES.items())
def test_pulse_of_a_meter(meter, pulse):
    assert pulse_of_meter(*meter) == pulse


def test_moving_takes_the_key_along():
    passage = lay(names_to_midi("C4 E4 G4"), SIXTEENTH)
    # D, F, Bb, Db and B major have 2, -1, -2, -5 and 5 sharps (flats negative).
    assert [moved(passage, s).fifths for s in (2, 5, -2, 1, -1)] == [2, -1, -2, -5, 5]
    assert [n.pitch for n in moved(passage, 2).notes] == names_to_midi("D4 F#4 A4")


def test_a_figure_comes_back():
    figure = Passage(lay([60, 62], Layout((Fraction(1),), hold=False)).notes)
    whole = returning(figure, Fraction(3), (0, 5, -2))
    assert [n.pitch for n in whole.notes] == [60, 62, 65, 67, 58, 60]
    assert [n.start_beats for n in whole.notes] == [0, 1, 3, 4, 6, 7]


def test_repeated_holds_the_last():
    assert lines.repeated([60, 62], 3) == [60, 60, 60, 62]
    assert lines.with_rests([60, 62]) == [60, None, 62]
