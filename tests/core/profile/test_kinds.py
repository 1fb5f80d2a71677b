"""What a passage is an example of: scales and arpeggios by their notes (common music theory), ways
of tonguing by their names in the trade (common practice, no source)."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.passage import Note, Passage, in_a_row
from coach.core.patterns.keys import CHORDS, SCALES, all_keys, place_of_key
from coach.core.pitch import midi_of_name
from coach.core.profile.kinds import notes_a_click, passage_kinds
from coach.core.profile.patterns import tonguing_of
from coach.core.profile.scales import scale_of

HORN = -7
SIXTEENTH = Fraction(1, 4)


def written(names: str, transposition: int = 0) -> Passage:
    """Even sixteenths of these written notes."""
    pitches = [midi_of_name(name) + transposition for name in names.split()]
    return Passage(in_a_row(pitches, SIXTEENTH))


def said(syllables: str, length: int = 16) -> Passage:
    """Sixteenths on one note but for `~`, slurred up and down, and `-`, tongued."""
    cycle = syllables.split()
    notes = []
    for k in range(length):
        each = cycle[k % len(cycle)]
        syllable = None if each in "~-" else each
        start = k * SIXTEENTH
        notes.append(Note(60 + k % 2, start, SIXTEENTH, slurred=each == "~", syllable=syllable))
    return Passage(tuple(notes))


@pytest.mark.parametrize(
    ("names", "scale"),
    [
        ("G4 A4 B4 C5 D5 E5 F#5 G5 F#5 E5 D5 C5 B4 A4 G4", "G major"),
        ("A4 B4 C5 D5 E5 F5 G5 A5 G5 F5 E5 D5 C5 B4 A4", "A minor"),
        ("A4 B4 C5 D5 E5 F5 G#5 A5 G#5 F5 E5 D5 C5 B4 A4", "A harmonic minor"),
        ("A4 B4 C5 D5 E5 F#5 G#5 A5 G5 F5 E5 D5 C5 B4 A4", "A melodic minor"),
        ("D4 E4 F4 G4 A4 B4 C5 D5 C5 B4 A4 G4 F4 E4 D4", "D dorian"),
        ("C4 E4 D4 F4 E4 G4 F4 A4 G4 B4 A4 C5 B4 D5 C5", "C major"),
        ("C4 E4 G4 D4 F4 A4 E4 G4 B4 F4 A4 C5 G4 B4 D5 C5", "C major"),
        ("F#4 G#4 A#4 B4 C#5 D#5 F5 F#5", "Gb major"),
        ("G4 B4 D5 G5 D5 B4 G4 D4 G4", "G major arpeggio"),
        ("A4 C5 E5 A5 E5 C5 A4", "A minor arpeggio"),
        ("G4 B4 D5 F5 G5 F5 D5 B4 G4", "G dominant seventh arpeggio"),
        ("B3 D4 F4 Ab4 B4 Ab4 F4 D4 B3", "B diminished seventh arpeggio"),
        ("C4 C#4 D4 Eb4 E4 F4 F#4 G4 F#4 F4 E4 Eb4 D4 C#4 C4", "chromatic"),
        ("C4 D4 E4 F4 G4 F4 E4 D4 C4", None),
        ("C4 C4 C4 C4 C4 C4 C4 C4", None),
        ("C4 D4 C4 D4 C4 D4 C4 D4", None),
        ("C4 D4 E4", None),
        ("C4 F4 D4 G4 E4 A4 F4 B4 G4 C5", None),
        ("C4 B4 D4 A4 E4 G5 F4 C5 A3 D5 B3 E5", None),
        ("C4 D4 E4 F#4 G#4 A#4 C5 A#4 G#4 F#4 E4 D4 C4", None),
    ],
)
def test_scales_by_their_notes(names, scale):
    assert scale_of(written(names), 0) == scale
    assert scale_of(written(names, HORN), HORN) == scale


def test_one_foreign_note_in_sixteen_does_no_harm():
    names = "G4 A4 B4 C5 C#5 D5 E5 F#5 G5 F#5 E5 D5 C5 B4 A4 G4"
    assert scale_of(written(names), 0) == "G major"
    assert scale_of(written(names.replace("A4", "Ab4")), 0) is None


def test_on_one_fingering_no_finger_moves_and_the_lips_slur():
    arpeggio = written("C4 G4 C5 E5 G5 E5 C5 G4 C4")
    notes = [replace(note, fingering="0", slurred=k > 0) for k, note in enumerate(arpeggio.notes)]
    lips = Passage(tuple(notes))
    assert scale_of(arpeggio, 0) == "C major arpeggio"
    assert (scale_of(lips, 0), tonguing_of(lips)) == (None, "lip slurs")


keys = st.sampled_from([(m, key) for m in SCALES.values() for key in all_keys(m)])


@given(keys, st.integers(50, 65), st.integers(-14, 2))
def test_every_scale_is_found_in_every_key_at_every_transposition(mode_key, lowest, transposition):
    mode, key = mode_key
    up, down = mode.ladders(lowest + (7 * place_of_key(key) - lowest) % 12)
    rungs = [*(up.at(k) for k in range(8)), *(down.at(k) for k in range(6, -1, -1))]
    passage = Passage(in_a_row([rung + transposition for rung in rungs], SIXTEENTH))
    assert scale_of(passage, transposition) == f"{key} {mode.title}"


@given(st.sampled_from(list(CHORDS.values())), st.integers(40, 70))
def test_every_arpeggio_begins_on_its_root(mode, root):
    ladder = mode.ladders(root)[0]
    pitches = [ladder.at(k) for k in (0, 1, 2, 3, 4, 3, 2, 1, 0)]
    found = scale_of(Passage(in_a_row(pitches, SIXTEENTH)), 0)
    assert found is not None
    key, _, rest = found.partition(" ")
    assert 7 * place_of_key(key) % 12 == root % 12
    assert rest == f"{mode.title.removesuffix(' chord')} arpeggio"


@pytest.mark.parametrize(
    ("syllables", "told"),
    [
        ("ta", "ta"),
        ("ta ka", "ta ka"),
        ("ta ta ka", "ta ta ka"),
        ("ta ka ta", "ta ka ta"),
        ("ta ka ta ta ka ka", "ta ka ta ta ka ka"),
        ("-", "tongued"),
        ("- ~ - -", "two slurred, two tongued"),
        ("- ~", "two slurred"),
        ("- ~ ~ -", "three slurred, one tongued"),
        ("- ~ ~ ~", "four slurred"),
        ("- ~ ~ ~ ~ ~ ~ ~ ~ ~ ~ ~ ~ ~ ~ ~", "slurred"),
        ("~", "slurred"),
        ("ta ~ ta ka", "two slurred, two tongued"),
    ],
)
def test_tonguing_by_its_cycle(syllables, told):
    assert tonguing_of(said(syllables, 32)) == told


def test_no_cycle_no_name():
    assert tonguing_of(said("ta ka ka ta ta ta ka ta ka ka ta ka ka ka ta ta")) is None
    assert tonguing_of(said("- ~ - - - - - ~ ~ - - ~ - - ~ ~")) is None
    assert tonguing_of(said("ta", 3)) is None
    assert tonguing_of(Passage(())) is None


def test_the_cycle_is_read_from_a_note_on_a_click():
    """A pick-up of two notes: the beat begins with ta."""
    passage = said("ka ta ta ka ta ta ka ta ta ka ta ta", 12)
    third = Fraction(1, 3)
    notes = tuple(
        replace(note, start_beats=(k + 1) * third, length_beats=third)
        for k, note in enumerate(passage.notes)
    )
    assert tonguing_of(Passage(notes)) == "ta ka ta"


def test_long_notes_between_do_not_hide_the_cycle():
    notes, start = [], Fraction(0)
    for _ in range(4):
        for syllable, length in (("ta", 1), ("ka", 1), ("ta", 1), ("ka", 1), ("ta", 4)):
            notes.append(Note(60, start, length * SIXTEENTH, syllable=syllable))
            start += length * SIXTEENTH
    assert tonguing_of(Passage(tuple(notes))) == "ta ka"


def lengths(*sixteenths: int, pulse: Fraction = Fraction(1)) -> Passage:
    notes, start = [], Fraction(0)
    for count in sixteenths:
        notes.append(Note(60, start, count * SIXTEENTH))
        start += count * SIXTEENTH
    return Passage(tuple(notes), pulse_beats=pulse)


@pytest.mark.parametrize(
    ("passage", "rate"),
    [
        (lengths(*[1] * 16), 4),
        (lengths(*[2] * 8), 2),
        (lengths(*[2] * 9, pulse=Fraction(3, 2)), 3),
        (lengths(*[1] * 12, 4), 4),
        (lengths(*[1] * 8, *[2] * 6), 4),
        (lengths(*[1] * 4, *[2] * 12), 2),
        (lengths(*[3, 1] * 8), 2),
        (lengths(4), 1),
        (Passage(()), 0),
    ],
)
def test_the_quick_notes_to_a_click(passage, rate):
    assert notes_a_click(passage) == pytest.approx(rate)


def test_all_kinds_at_once():
    kinds = passage_kinds(written("G4 A4 B4 C5 D5 E5 F#5 G5", HORN), HORN)
    assert (kinds.scale, kinds.tonguing, kinds.notes_a_click) == ("G major", "tongued", 4)


pitches = st.lists(st.integers(30, 90), max_size=40)


@given(pitches, st.integers(-24, 24))
def test_any_passage_has_kinds(row, transposition):
    kinds = passage_kinds(Passage(in_a_row(row, SIXTEENTH)), transposition)
    assert kinds == passage_kinds(Passage(in_a_row(row, SIXTEENTH)), transposition)
    assert kinds.notes_a_click >= 0
