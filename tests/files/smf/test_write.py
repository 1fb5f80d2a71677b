"""Written files come back as they were, and other readers find the same notes in them."""

from __future__ import annotations

import io
from fractions import Fraction

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.passage import MeterChange, Note, Passage, can_slur, in_a_row
from coach.core.patterns.layout import meters_as_long
from coach.core.pitch import moved_key
from coach.errors import CoachError
from coach.files.configs import load_instrument
from coach.files.smf import read_smf, smf_bytes
from coach.files.smf.write import UNITS
from tests.files.smf.seconds import timed_notes

HORN = load_instrument("double-horn")
INSTRUMENTS = [HORN, *map(load_instrument, ("trumpet", "tuba", "euphonium-treble"))]
# Bar and click of usual meters, in quarter notes, with count and unit.
METERS = [
    ((4, 4), Fraction(4), Fraction(1)),
    ((3, 4), Fraction(3), Fraction(1)),
    ((2, 2), Fraction(4), Fraction(2)),
    ((6, 8), Fraction(3), Fraction(3, 2)),
    ((5, 8), Fraction(5, 2), Fraction(1, 2)),
    ((12, 16), Fraction(3), Fraction(3, 4)),
]
# Denominators whose least common multiple with 480 stays in 15 bits.
LENGTHS = [Fraction(n, d) for d in (1, 2, 3, 4, 5, 6, 7, 8, 32) for n in (1, 3, 7)]


@st.composite
def passages(draw):
    notes, at = [], draw(st.sampled_from([Fraction(0), Fraction(1, 3), Fraction(5)]))
    for _ in range(draw(st.integers(1, 25))):
        note = Note(draw(st.integers(28, 90)), at, draw(st.sampled_from(LENGTHS)))
        notes.append(
            Note(
                note.pitch,
                at,
                note.length_beats,
                can_slur(notes[-1] if notes else None, note) and draw(st.booleans()),
                draw(st.sampled_from([None, "ta", "ka", "du"])),
                draw(st.sampled_from([None, "T12", "0", "2+"])),
                draw(st.booleans()),
            )
        )
        at = notes[-1].end_beats + draw(st.sampled_from([0, 0, 0, Fraction(1, 2), 9]))
    _, bar, pulse = draw(st.sampled_from(METERS))
    changes, line = [], Fraction(0)
    for _ in range(draw(st.integers(0, 2))):
        line += (changes[-1].bar_beats if changes else bar) * draw(st.integers(1, 3))
        changes.append(MeterChange(line, *draw(st.sampled_from(METERS))[1:]))
    letters = st.characters(categories=["L", "N", "P"])
    title = draw(st.text(letters, max_size=30))
    fifths = draw(st.integers(-6, 6))
    return Passage(tuple(notes), title, bar, pulse, fifths, changes=tuple(changes))


def notes_of(part, frames):
    """The heads of a part joined over ties, as notes of a passage."""
    made, start = [], Fraction(0)
    for bar, frame in zip(part.bars, frames, strict=True):
        for head in bar.heads:
            if head.tied_back:
                last = made[-1]
                assert (last.pitch, last.end_beats) == (head.sounding, start + head.onset)
                length = last.length_beats + head.length
                made[-1] = Note(last.pitch, last.start_beats, length, *words_of(last))
            else:
                note = Note(head.sounding, start + head.onset, head.length)
                accent = "accent" in head.marks
                words = (head.slurred, head.syllable, head.fingering, accent)
                made.append(Note(note.pitch, note.start_beats, note.length_beats, *words))
        start += frame.length
    return tuple(made)


def words_of(note):
    return note.slurred, note.syllable, note.fingering, note.accent


@settings(max_examples=150)
@given(passage=passages(), instrument=st.sampled_from(INSTRUMENTS), bpm=st.integers(30, 240))
def test_a_passage_comes_back(passage, instrument, bpm):
    score = read_smf(smf_bytes(passage, instrument, bpm), "ours")
    (part,) = score.parts
    assert notes_of(part, score.frames) == passage.notes
    assert (score.title, part.name, score.remarks) == (passage.title, instrument.title, ())
    fifths = moved_key(passage.fifths, instrument.transposition)
    assert [bar.keys for bar in part.bars if bar.keys] == [((0, fifths),)]
    spans = [(span.end_beats - span.start_beats, span.pulse_beats) for span in passage.bars]
    read = [(frame.length, frame.meter.pulse_beats) for frame in score.frames]
    assert read == spans
    ((onset, qpm),) = score.frames[0].tempos
    # The tempo is a whole number of microseconds a quarter note and read to a hundredth.
    right = bpm * float(passage.pulse_beats)
    assert onset == 0
    assert abs(qpm - right) < 0.01 + right**2 / 120e6


@settings(max_examples=40)
@given(passage=passages())
def test_mido_reads_the_same_notes(passage):
    """mido 1.3.3 as the outside reader: pitches, ticks, tempo, meter and key."""
    file = mido.MidiFile(file=io.BytesIO(smf_bytes(passage, HORN, 100)))
    assert file.type == 1
    found, tick, began = [], 0, 0
    for message in file.tracks[1]:
        tick += message.time
        if message.type == "note_on":
            began = tick
        elif message.type == "note_off":
            beats = [Fraction(at, file.ticks_per_beat) for at in (began, tick)]
            found.append((message.note, *beats))
    assert found == [(note.pitch, note.start_beats, note.end_beats) for note in passage.notes]
    head = {message.type: message for message in file.tracks[0] if message.time == 0}
    assert head["set_tempo"].tempo == round(600_000 / passage.pulse_beats)
    assert head["time_signature"].numerator / head["time_signature"].denominator * 4 == float(
        passage.bar_beats
    )


@pytest.mark.parametrize(
    ("name", "program"),
    [("double-horn", 60), ("trumpet", 56), ("trombone-f", 57), ("tuba-eb", 58), ("flugelhorn", 56)],
)
def test_programs_of_general_midi(name, program):
    """General MIDI level 1: French horn 61, trumpet 57, trombone 58, tuba 59, counted from 1."""
    passage = Passage(in_a_row([60], Fraction(1)))
    score = read_smf(smf_bytes(passage, load_instrument(name), 60), "ours")
    assert score.parts[0].sound == f"program {program}"


@pytest.mark.parametrize(
    ("written", "transposition", "sounding"),
    [
        (0, -7, -1),  # horn in F: C sounds F
        (1, -7, 0),
        (-3, -7, -4),
        (2, -2, 0),  # trumpet in B-flat: D sounds C
        (0, -2, -2),
        (0, -14, -2),  # euphonium in treble clef
        (6, -7, 5),
        (-6, -2, 4),  # G-flat sounds F-flat, written with four sharps as E
        (7, 0, 7),
        (-7, -12, -7),
    ],
)
def test_the_key_sounds_where_the_instrument_stands(written, transposition, sounding):
    assert moved_key(written, transposition) == sounding


@pytest.mark.parametrize(("numbers", "bar", "pulse"), METERS)
def test_meters_have_their_numbers(numbers, bar, pulse):
    assert next(iter(meters_as_long(bar, pulse, UNITS, 255)), None) == numbers


def test_six_eight_clicked_in_eighths_keeps_its_bars():
    """No time signature says so: 6/8 clicks in dotted quarters when read back."""
    assert meters_as_long(Fraction(3), Fraction(1, 2), UNITS, 255)[0] == (3, 4)


def test_a_bar_that_no_meter_has_is_refused():
    odd = Passage(in_a_row([60], Fraction(1)), bar_beats=Fraction(7, 3))
    with pytest.raises(CoachError, match="bars of 7/3 quarter notes"):
        smf_bytes(odd, HORN, 60)


def test_a_pitch_outside_midi_is_refused():
    with pytest.raises(CoachError, match="beat 1 has the pitch 128"):
        smf_bytes(Passage(in_a_row([128], Fraction(1))), HORN, 60)


def test_fractions_that_15_bits_cannot_hold_go_to_the_nearest_tick():
    lengths = [Fraction(1, 11), Fraction(1, 13), Fraction(1, 17), Fraction(1, 32), Fraction(1, 9)]
    notes, at = [], Fraction(0)
    for pitch, length in enumerate(lengths, start=60):
        notes.append(Note(pitch, at, length))
        at += length
    score = read_smf(smf_bytes(Passage(tuple(notes)), HORN, 60), "ours")
    for read, meant in zip(notes_of(score.parts[0], score.frames), notes, strict=True):
        assert abs(read.start_beats - meant.start_beats) <= Fraction(1, 60_480)
        assert abs(read.end_beats - meant.end_beats) <= Fraction(1, 60_480)


def test_the_tempo_counts_clicks():
    """Two dotted quarters a bar at 80 clicks: 120 quarters a minute, a bar in a second and a half
    (two clicks of 60/80 s)."""
    passage = Passage(
        in_a_row([60], Fraction(3)), bar_beats=Fraction(3), pulse_beats=Fraction(3, 2)
    )
    ((note,),) = [voice.notes for voice in timed_notes(smf_bytes(passage, HORN, 80), "ours")]
    assert note.off_seconds == Fraction(3, 2)


def test_texts_of_other_files_are_not_taken_for_marks():
    """Lyrics of a song are no syllables of the tongue; only files of ours are read so."""
    passage = Passage((Note(60, Fraction(0), Fraction(1), syllable="ta", accent=True),))
    ours = smf_bytes(passage, HORN, 60)
    assert read_smf(ours, "x").parts[0].bars[0].heads[0].syllable == "ta"
    other = ours.replace(b"evenrun marks 1", b"evenrun_marks_1")
    head = read_smf(other, "x").parts[0].bars[0].heads[0]
    assert (head.syllable, head.marks) == (None, frozenset())
