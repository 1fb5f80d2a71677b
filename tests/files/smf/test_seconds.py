"""Exact seconds: worked examples of the SMF standard, and what a time code does."""

from __future__ import annotations

import json
from fractions import Fraction

import pytest

from tests.files.smf.making import END, line, meta, played, song
from tests.files.smf.seconds import TimedNote, timed_notes

# A listed time has nine decimals at most.
ROUNDED = Fraction(1, 2_000_000_000)


@pytest.mark.shared
def test_the_worked_examples_come_out_exactly(shared_dir):
    cases = json.loads((shared_dir / "facts/smf_examples.json").read_text())
    assert len(cases) == 7
    for case in cases:
        heard = []
        for voice in timed_notes(bytes.fromhex(case["hex"]), case["name"]):
            heard += [(note.on_seconds, "on", note.pitch) for note in voice.notes]
            heard += [(note.off_seconds, "off", note.pitch) for note in voice.notes]
        told = [(s, way, pitch) for s, way, pitch in case["events_seconds"]]
        in_order = sorted(told, key=lambda event: (event[0], event[1]))
        assert len(heard) == len(in_order), case["name"]
        for (seconds, *what), (listed, *expected) in zip(sorted(heard), in_order, strict=True):
            assert what == expected, case["name"]
            assert abs(seconds - Fraction(str(listed))) <= ROUNDED, case["name"]


def test_a_tempo_that_is_no_round_number_is_exact():
    """A sixteenth at 428,571 us a quarter lasts 428571/4 us (facts: E5)."""
    tempo = meta(0x51, (428_571).to_bytes(3, "big"))
    (voice,) = timed_notes(song(tempo + played((0, 120, 60)), kind=0), "made")
    assert voice.notes == (TimedNote(60, Fraction(0), Fraction(428_571, 4_000_000)),)


@pytest.mark.parametrize(
    ("frames", "a_second"), [(24, 24), (25, 25), (29, Fraction(30_000, 1001)), (30, 30)]
)
def test_a_time_code_counts_frames_and_no_tempo(frames, a_second):
    """Standard MIDI Files 1.0: division is minus frames, ticks a frame; 29 is drop frame."""
    division = (256 - frames) << 8 | 40
    data = song(meta(0x51, b"\x0f\x42\x40") + played((40, 120, 60)), kind=0, division=division)
    ((note,),) = [voice.notes for voice in timed_notes(data, "made")]
    assert (note.on_seconds, note.off_seconds) == (Fraction(1) / a_second, Fraction(3) / a_second)


def test_a_later_tempo_in_any_track_of_format_1_counts_for_all():
    data = song(meta(0x51, b"\x0f\x42\x40", after=480) + END, played((0, 960, 60)))
    ((note,),) = [voice.notes for voice in timed_notes(data, "made")]
    assert note.off_seconds == Fraction(3, 2)


def test_sequences_of_format_2_have_tempos_of_their_own():
    slow = meta(0x51, b"\x0f\x42\x40") + played((0, 480, 60))
    first, second = timed_notes(song(slow, played((0, 480, 62)), kind=2), "made")
    assert (first.notes[0].off_seconds, second.notes[0].off_seconds) == (1, Fraction(1, 2))


def test_voices_are_told_by_track_and_channel():
    both = played((0, 480, 60))[: -len(END)] + played((0, 480, 64), channel=3)
    voices = timed_notes(song(both, played((0, 480, 67))), "made")
    assert [(v.track, v.channel, v.notes[0].pitch) for v in voices] == [
        (1, 0, 60),
        (1, 3, 64),
        (2, 0, 67),
    ]


def test_a_note_struck_again_ends_the_one_before():
    """Two beginnings and two ends of one pitch that overlap: the first end is the first note's."""
    data = line((0, 500, 60), (480, 960, 60))
    ((first, second),) = [voice.notes for voice in timed_notes(data, "made")]
    assert (first.off_seconds, second.on_seconds, second.off_seconds) == (
        Fraction(1, 2),
        Fraction(1, 2),
        1,
    )
