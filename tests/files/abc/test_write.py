"""Passages as ABC: what is read back is what was written."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.instrument import Instrument
from coach.core.passage import MeterChange, Note, Passage, can_slur
from coach.core.score.model import Meter, Score
from coach.files.abc import abc_text, read_abc

F = Fraction

HORN = Instrument("horn-f", "horn in F", -7, 29, 77)
TUBA = Instrument("tuba", "tuba", 0, 20, 70)
TRUMPET = Instrument("trumpet", "trumpet in B flat", -2, 48, 84)
LENGTHS = [
    F(1, 4),
    F(1, 2),
    F(1),
    F(3, 2),
    F(2),
    F(5, 4),
    F(1, 3),
    F(2, 3),
    F(1, 5),
    F(3, 7),
    F(1, 6),
]
LENGTHS += [F(5), F(1, 9), F(2, 11), F(1, 23), F(7, 24), F(1, 128), F(13, 3)]
METERS = [Meter((4,), 4), Meter((3,), 4), Meter((6,), 8), Meter((2,), 2), Meter((5,), 8)]


@dataclass
class Heard:
    """One note as it sounds, its tied heads joined."""

    pitch: int
    start: F
    length: F
    slurred: bool
    accent: bool
    syllable: str | None
    fingering: str | None


def read(text: str) -> Score:
    return read_abc(text.encode(), "written.abc")


def heard(score: Score) -> list[Heard]:
    made: list[Heard] = []
    start = F(0)
    tied = False
    for frame, bar in zip(score.frames, score.parts[0].bars, strict=True):
        for head in bar.heads:
            if head.tied_back:
                assert tied
                assert made[-1].pitch == head.sounding
                assert made[-1].start + made[-1].length == start + head.onset
                made[-1].length += head.length
            else:
                made.append(
                    Heard(
                        head.sounding,
                        start + head.onset,
                        head.length,
                        head.slurred,
                        "accent" in head.marks,
                        head.syllable,
                        head.fingering,
                    )
                )
            tied = head.tied_on
        start += frame.length
    assert not tied
    return made


def wanted(passage: Passage) -> list[Heard]:
    return [
        Heard(
            note.pitch,
            note.start_beats,
            note.length_beats,
            note.slurred,
            note.accent,
            note.syllable,
            note.fingering,
        )
        for note in passage.notes
    ]


@st.composite
def passages(draw: st.DrawFn) -> Passage:
    notes: list[Note] = []
    at = F(0)
    for _ in range(draw(st.integers(1, 14))):
        if draw(st.integers(0, 5)) == 0:
            at += draw(st.sampled_from(LENGTHS))
        note = Note(
            draw(st.integers(40, 79)),
            at,
            draw(st.sampled_from(LENGTHS)),
            syllable=draw(st.sampled_from([None, None, "ta", "ka", "da", "gu"])),
            fingering=draw(st.sampled_from([None, None, "0", "12", "T23", "H1", "2+"])),
            accent=draw(st.booleans()),
        )
        slurred = draw(st.booleans()) and can_slur(notes[-1] if notes else None, note)
        notes.append(Note(**{**_fields(note), "slurred": slurred}))
        at = notes[-1].end_beats
    first, second = draw(st.sampled_from(METERS)), draw(st.sampled_from(METERS))
    change = MeterChange(2 * first.bar_beats, second.bar_beats, second.pulse_beats)
    return Passage(
        tuple(notes),
        draw(st.sampled_from(["", "A title", "100 % of it"])),
        first.bar_beats,
        first.pulse_beats,
        draw(st.integers(-7, 7)),
        changes=(change,) if draw(st.booleans()) else (),
    )


def _fields(note: Note) -> dict[str, object]:
    return {name: getattr(note, name) for name in Note.__dataclass_fields__}


@settings(max_examples=250)
@given(passages(), st.sampled_from([HORN, TUBA, TRUMPET]), st.sampled_from([60.0, 92.5, 144.0]))
def test_what_is_read_back_is_what_was_written(passage, instrument, tempo_bpm):
    score = read(abc_text(passage, instrument, tempo_bpm))
    assert heard(score) == wanted(passage)
    assert score.title == passage.title
    assert score.remarks == ()
    assert score.parts[0].transposition == instrument.transposition
    assert [frame.length for frame in score.frames] == [
        bar.end_beats - bar.start_beats for bar in passage.bars
    ]
    assert [frame.meter.bar_beats for frame in score.frames] == [
        frame.length for frame in score.frames
    ]
    assert [frame.meter.pulse_beats for frame in score.frames] == [
        bar.pulse_beats for bar in passage.bars
    ]
    assert score.parts[0].bars[0].keys == ((0, passage.fifths),)
    ((onset, quarter_bpm),) = score.frames[0].tempos
    assert onset == 0
    assert quarter_bpm == pytest.approx(tempo_bpm * float(passage.pulse_beats))


@settings(max_examples=60)
@given(st.lists(st.fractions(F(1, 4), F(3), max_denominator=40), min_size=1, max_size=6))
def test_any_fraction_is_written_exactly(lengths):
    notes, at = [], F(0)
    for place, length in enumerate(lengths):
        notes.append(Note(60 + place, at, length))
        at += length
    passage = Passage(tuple(notes))
    assert heard(read(abc_text(passage, TUBA, 100))) == wanted(passage)


@settings(max_examples=60)
@given(passages(), st.sampled_from(["octave", "pitch"]))
def test_accidentals_are_clear_whether_they_last_for_one_octave_or_all(passage, lasting):
    text = f"%%propagate-accidentals {lasting}\n" + abc_text(passage, HORN, 80)
    assert [note.pitch for note in heard(read(text))] == [note.pitch for note in passage.notes]


def note(pitch: int, start: F | int, length: F | int, **how: object) -> Note:
    return Note(pitch, F(start), F(length), **how)  # type: ignore[arg-type]


def test_a_page_of_it():
    """Written pitch, accidentals only where the bar does not say them, beams by the beat, a tie
    over the bar line, slurs, a triplet, marks and words."""
    third = F(1, 3)
    passage = Passage(
        (
            note(60, 0, F(1, 2), syllable="ta", fingering="T12"),
            note(61, F(1, 2), F(1, 2), slurred=True),
            note(62, 1, F(1, 2), slurred=True),
            note(61, F(3, 2), F(1, 2), accent=True),
            note(60, 2, third),
            note(62, 2 + third, third),
            note(64, 2 + 2 * third, third),
            note(65, 3, 2),
        ),
        "Up and over",
        fifths=1,
    )
    assert abc_text(passage, HORN, 96) == (
        "X:1\n"
        "T:Up and over\n"
        "M:4/4\n"
        "L:1/8\n"
        "Q:1/4=96\n"
        "K:G transpose=-7\n"
        '("^T12"G^G A)!accent!_A (3=G=AB c2- | c2 z6 |]\n'
        "w:ta * * * * * * * *\n"
    )


def test_low_parts_are_written_in_bass_clef():
    assert "K:C clef=bass\n" in abc_text(Passage((note(36, 0, 4),)), TUBA, 60)


@pytest.mark.parametrize(
    ("bar_beats", "pulse_beats", "meter", "tempo"),
    [
        (F(4), F(1), "4/4", "1/4=80"),
        (F(3), F(3, 2), "6/8", "3/8=80"),
        (F(3), F(1), "3/4", "1/4=80"),
        (F(4), F(2), "2/2", "1/2=80"),
        (F(5, 2), F(1, 2), "5/8", "1/8=80"),
        (F(3, 4), F(1, 4), "3/16", "1/16=80"),
        (F(4, 3), F(1, 3), "none", "1/12=80"),
    ],
)
def test_meter_and_tempo(bar_beats, pulse_beats, meter, tempo):
    passage = Passage((note(60, 0, bar_beats),), bar_beats=bar_beats, pulse_beats=pulse_beats)
    text = abc_text(passage, TUBA, 80)
    assert f"\nM:{meter}\n" in text
    assert f"\nQ:{tempo}\n" in text


def test_a_slur_onto_nothing_is_left_out():
    text = abc_text(Passage((note(60, 0, 1, slurred=True), note(62, 1, 1))), TUBA, 80)
    assert "(" not in text
