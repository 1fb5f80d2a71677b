"""From ticks to bars and heads: the rules stated in `coach/files/smf/grid.py` and `read.py`."""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.files.smf import read_smf
from tests.files.smf.making import END, chunk, line, meta, number, played, song

F = Fraction


def heads(data, part=0):
    return [head for bar in read_smf(data, "x").parts[part].bars for head in bar.heads]


def beats(data):
    """(onset, length) in quarter notes from the start; ties joined."""
    score, made, start = read_smf(data, "x"), [], F(0)
    for bar, frame in zip(score.parts[0].bars, score.frames, strict=True):
        for head in bar.heads:
            if head.tied_back:
                made[-1] = (made[-1][0], made[-1][1] + head.length)
            else:
                made.append((start + head.onset, head.length))
        start += frame.length
    return made


def row(*onsets_and_end, gate=1.0):
    """Notes from each tick to the next, cut to a share of it; the last number is an end."""
    pairs = pairwise(onsets_and_end)
    notes = [(a, a + round((b - a) * gate), 60 + i % 12) for i, (a, b) in enumerate(pairs)]
    return line(*notes)


@pytest.mark.parametrize(
    ("division", "parts"),
    [(96, parts) for parts in range(1, 13)]
    + [(480, parts) for parts in (*range(1, 17), 20, 24, 32)]
    + [(1024, parts) for parts in (*range(1, 17), 20, 24, 32)]
    + [(24, parts) for parts in (1, 2, 3, 4, 6, 8, 12, 24)]
    + [(4, parts) for parts in (1, 2, 4)],
)
def test_a_beat_in_equal_parts_stays_even_where_ticks_are_rounded(division, parts):
    """A septuplet at 480 ticks begins at 69, 137, 206 ..., printed as sevenths."""
    ticks = [round(F(division * n, parts)) for n in range(parts + 1)]
    notes = [(a, b, 60 + n % 12) for n, (a, b) in enumerate(pairwise(ticks))]
    exact = [(F(n, parts), F(1, parts)) for n in range(parts)]
    assert beats(line(*notes, division=division)) == exact


@pytest.mark.parametrize("gate", [0.85, 0.9, 0.95, 0.98])
@pytest.mark.parametrize("length", [120, 160, 240, 480, 960])
def test_notes_cut_short_by_programs_are_as_long_as_printed(gate, length):
    ticks = range(0, 9 * length, length)
    assert beats(row(*ticks, gate=gate)) == [(F(t, 480), F(length, 480)) for t in ticks[:-1]]


@pytest.mark.parametrize("length", [60, 120, 160, 240])
def test_rests_shorter_than_a_sixteenth_are_not_printed(length):
    """At 75 %: what follows tells that the notes go on; behind the last one nothing does."""
    ticks = range(0, 9 * length, length)
    made = beats(row(*ticks, gate=0.75))
    assert [long for _, long in made[:-1]] == [F(length, 480)] * 7


def test_a_printed_rest_stays():
    """Eighth note, eighth rest; dotted eighth, sixteenth rest; half note, half rest."""
    data = line((0, 240, 60), (480, 840, 62), (960, 1920, 64), (2880, 3360, 65))
    assert beats(data) == [(0, F(1, 2)), (1, F(3, 4)), (2, 2), (6, 1)]


def test_staccato_of_half_length_is_short():
    data = line((0, 240, 60), (480, 720, 62), (960, 1200, 64))
    assert [length for _, length in beats(data)] == [F(1, 2)] * 3


@pytest.mark.parametrize("seed", range(5))
def test_live_playing_goes_to_the_grid(seed):
    """Sixteenths, triplets, eighths and quarters played up to 18 ms off (at 120 in 480 ticks: 17
    ticks), each held for 80 % or more."""
    chance = random.Random(seed)
    meant, at = [], F(0)
    for parts in (4, 3, 2, 1, 4, 4, 3, 1):
        for _ in range(parts):
            meant.append((at, F(1, parts)))
            at += F(1, parts)
    notes = []
    for place, (onset, length) in enumerate(meant):
        on = max(round(onset * 480) + chance.randint(-17, 17), 0)
        off = round((onset + length * F(chance.randint(80, 95), 100)) * 480)
        notes.append((on, max(off, on + 1), 60 + place % 12))
    assert beats(line(*notes)) == meant


def test_a_live_note_before_the_bar_line_is_in_its_bar():
    data = line((13, 470, 60), (471, 950, 62), (971, 1433, 64), (1443, 1900, 65), (1909, 2400, 67))
    assert [onset for onset, _ in beats(data)] == [0, 1, 2, 3, 4]


@given(
    st.lists(
        st.tuples(st.integers(0, 4000), st.integers(1, 900), st.integers(40, 80)),
        min_size=1,
        max_size=30,
    ),
    st.sampled_from([1, 7, 24, 96, 480, 32_767, 0xE728, 0xE301]),
)
def test_heads_lie_in_their_bars_one_after_the_other(notes, division):
    """Whatever was played: one voice, no overlap, ties that join, inside the bars."""
    data = line(*((on, on + length, pitch) for on, length, pitch in notes), division=division)
    score = read_smf(data, "x")
    start, before_end, before_onset, open_ties = F(0), F(0), None, set()
    for bar, frame in zip(score.parts[0].bars, score.frames, strict=True):
        for head in bar.heads:
            onset = start + head.onset
            assert 0 <= head.onset < head.onset + head.length <= frame.length
            assert onset == before_onset or onset >= before_end
            assert (head.sounding in open_ties) == head.tied_back
            (open_ties.add if head.tied_on else open_ties.discard)(head.sounding)
            before_onset, before_end = onset, onset + head.length
        start += frame.length
    assert not open_ties


def test_a_note_is_cut_at_bar_lines():
    (first, second, third) = heads(line((1440, 4800, 60)))
    assert [(h.onset, h.length) for h in (first, second, third)] == [(3, 1), (0, 4), (0, 2)]
    assert [(h.tied_back, h.tied_on) for h in (first, second, third)] == [
        (False, True),
        (True, True),
        (True, False),
    ]


def test_the_last_note_wins_where_notes_overlap():
    data = line((0, 1900, 60), (480, 960, 62), (960, 1500, 64), (1440, 1920, 65))
    assert beats(data) == [(0, 1), (1, 1), (2, 1), (3, 1)]


def test_notes_begun_together_are_a_chord_as_long_as_its_longest():
    made = heads(line((0, 480, 67), (0, 240, 60), (0, 480, 64), (480, 960, 62)))
    assert [(h.onset, h.length, h.sounding) for h in made] == [
        (0, 1, 60),
        (0, 1, 64),
        (0, 1, 67),
        (1, 1, 62),
    ]


def test_a_chord_broken_by_the_hand_is_one():
    """Live: 8 ms apart and held together; a run of the same notes is none."""
    strummed = [
        (487 * n + 8 * k + 11, 487 * n + 400, 60 + 4 * k) for n in range(4) for k in range(3)
    ]
    assert len({head.onset for head in heads(line(*strummed))}) == 4
    run = [(30 * n, 30 * n + 20, 60 + n) for n in range(16)]
    assert [onset for onset, _ in beats(line(*run))] == [F(n, 16) for n in range(16)]


def test_notes_that_never_end_go_on_to_the_next():
    open_notes = b"\0\x90\x3c\x40" + number(480) + b"\x90\x3e\x40" + number(960) + END[1:]
    score = read_smf(song(open_notes), "x")
    assert beats(song(open_notes)) == [(0, 1), (1, 2)]
    assert score.remarks == (
        "Notes that never end were ended by the next note or the end of the track: 2.",
    )


def test_key_switches_are_left_out():
    music = [(480 * n, 480 * n + 480, 60 + n) for n in range(8)]
    switched = line(*music, (0, 30, 12), (960, 990, 14), (1920, 1930, 120))
    score = read_smf(switched, "x")
    assert score.parts == read_smf(line(*music), "x").parts
    assert score.remarks == ("track 1: 3 key-switches were left out.",)


def test_low_notes_near_the_others_are_music():
    """A tuba's pedal notes within an octave of the rest stay, and a part of nothing else."""
    tuba = line((0, 480, 22), (480, 960, 33), (960, 1440, 45))
    assert [head.sounding for head in heads(tuba)] == [22, 33, 45]
    assert [head.sounding for head in heads(line((0, 480, 12)))] == [12]


def test_bars_follow_the_time_signatures():
    """3/4 for two bars, then 6/8; before the first one 4/4 (Standard MIDI Files 1.0)."""
    meters = meta(0x58, b"\3\2\x18\x08", after=1920) + meta(0x58, b"\6\3\x24\x08", after=2880)
    score = read_smf(song(meters + END, played((0, 480, 60), (5760, 6240, 62))), "x")
    assert [(f.number, f.length, f.meter.text) for f in score.frames] == [
        ("1", 4, "4/4"),
        ("2", 3, "3/4"),
        ("3", 3, "3/4"),
        ("4", 3, "6/8"),
    ]
    assert score.parts[0].bars[3].heads[0].onset == 2


def test_a_time_signature_in_mid_bar_begins_a_bar():
    """A pick-up of one quarter note, as programs write it."""
    meters = meta(0x58, b"\4\2\x18\x08") + meta(0x58, b"\4\2\x18\x08", after=480)
    score = read_smf(song(meters + END, played((0, 480, 60), (480, 960, 62))), "x")
    assert [frame.length for frame in score.frames] == [1, 4]
    assert [bar.heads[0].onset for bar in score.parts[0].bars] == [0, 0]


def test_of_two_time_signatures_at_once_the_last_counts():
    meters = meta(0x58, b"\4\2\x18\x08") + meta(0x58, b"\3\2\x18\x08")
    assert read_smf(song(meters + played((0, 480, 60))), "x").frames[0].meter.text == "3/4"


def test_keys_spell_the_notes():
    """E-flat major, then from bar 2 on E major; a key told twice is told once."""
    keys = meta(0x59, b"\xfd\0") + meta(0x59, b"\xfd\0", after=960) + meta(0x59, b"\4\0", after=960)
    score = read_smf(song(keys + END, played((0, 480, 63), (1920, 2400, 63))), "x")
    first, second = score.parts[0].bars
    assert (first.keys, second.keys) == (((0, -3),), ((0, 4),))
    assert [bar.heads[0].written.name for bar in (first, second)] == ["Eb4", "D#4"]
    assert [bar.heads[0].sounding for bar in (first, second)] == [63, 63]


def test_a_track_with_keys_of_its_own_keeps_them():
    data = song(meta(0x59, b"\1\0") + END, meta(0x59, b"\xfe\0") + played((0, 480, 60)))
    assert read_smf(data, "x").parts[0].bars[0].keys == ((0, -2),)


def test_tempo_marks_stand_in_their_bars():
    tempi = meta(0x51, (428_571).to_bytes(3, "big")) + meta(0x51, b"\x0f\x42\x40", after=2400)
    score = read_smf(song(tempi + END, played((0, 480, 60), (1920, 2400, 60))), "x")
    assert [frame.tempos for frame in score.frames] == [((0, 140.0),), ((1, 60.0),)]


def test_with_a_time_code_a_second_has_two_quarter_notes():
    """25 frames of 40 ticks: 1000 ticks a second, so 500 are a quarter note at 120."""
    data = song(meta(0x51, b"\x0f\x42\x40") + played((0, 500, 60), (500, 750, 62)), division=0xE728)
    score = read_smf(data, "x")
    assert beats(data) == [(0, 1), (1, F(1, 2))]
    assert score.frames[0].tempos == ((0, 120.0),)
    assert "time code" in score.remarks[0]


def test_parts_are_named_by_track_channel_and_program():
    horns = b"\0\xc0\x3c" + meta(0x03, b"Horns") + played((0, 480, 60))[: -len(END)]
    horns += b"\0\xc3\x39" + played((0, 480, 64), channel=3)
    other = meta(0x04, b"Tuba") + played((0, 480, 40))
    score = read_smf(song(meta(0x03, b"Study") + END, horns, other, played((0, 480, 50))), "x")
    assert score.title == "Study"
    assert [(part.name, part.sound) for part in score.parts] == [
        ("Horns, channel 1", "program 60"),
        ("Horns, channel 4", "program 57"),
        ("Tuba", ""),
        ("track 4", ""),
    ]


def test_percussion_alone_is_a_part():
    drums = played((0, 480, 38), channel=9)
    assert len(read_smf(song(drums), "x").parts) == 1
    score = read_smf(song(drums, played((0, 480, 60))), "x")
    assert [part.name for part in score.parts] == ["track 2"]
    assert score.remarks == ("Percussion (channel 10) was left out: 1.",)


def test_bars_of_rest_at_the_end_count_if_they_are_whole():
    """Programs end a track some ticks after the last bar line: that is no bar."""
    for after, bars in ((0, 1), (1, 1), (1919, 1), (1920, 2), (3840, 3)):
        track = played((0, 1920, 60))[: -len(END)] + number(after) + END[1:]
        assert len(read_smf(song(promised=1) + chunk(track), "x").frames) == bars
