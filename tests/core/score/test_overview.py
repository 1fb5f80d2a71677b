"""A part at a glance: crooks, names of parts, changes, range, runs."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.score.crooks import HORNS, TRUMPETS, crook_name, crook_of
from coach.core.score.model import Meter
from coach.core.score.overview import overview
from coach.core.score.partnames import instrument_of
from coach.core.score.runs import fastest
from coach.errors import CoachError
from coach.files.configs import instrument_names, load_instrument
from tests.core.score.linemaking import even, line

QUARTERS = even([60, 62, 64, 65], 1)
REST = even([None], 4)
SIXTEENTH = Fraction(1, 4)
SCALE = [60, 62, 64, 65, 67, 65, 64, 62] * 2

# Handbook table (Wikibooks, Horn/Technique/Transposition; rgsmithmusic.com, horn transposition
# chart): what a horn in each key sounds against the written note.
HANDBOOK = {
    "C alto": 0, "B-flat alto": -2, "A": -3, "A-flat alto": -4, "G": -5, "F#": -6, "G-flat": -6,
    "F": -7, "E": -8, "E-flat": -9, "D": -10, "D-flat": -11, "C": -12, "B": -13,
    "B-flat basso": -14, "A basso": -15, "A-flat basso": -16, "G basso": -17,
}  # fmt: skip


@pytest.mark.parametrize(("name", "semitones"), HANDBOOK.items())
def test_horns_are_as_in_the_handbook(name, semitones):
    assert crook_of(name) == semitones
    assert crook_of(crook_name(semitones)) == semitones


def test_the_crooks_are_those_of_the_natural_horn():
    assert dict(load_instrument("natural-horn").crooks) == HORNS


@pytest.mark.parametrize(
    ("name", "semitones"),
    [("Bb", -2), ("C", 0), ("D", 2), ("Eb", 3), ("E", 4), ("F", 5), ("A", -3), ("Bb piccolo", 10)],
)
def test_trumpets_are_as_in_handbooks(name, semitones):
    assert crook_of(name, "trumpet") == semitones == TRUMPETS[crook_name(semitones, "trumpet")]


@pytest.mark.parametrize(
    ("spelling", "semitones"),
    [
        ("bb basso", -14), ("B♭ Basso", -14), ("in E flat", -9), ("B-flat (alto)", -2),
        ("C basso", -12), ("d", -10), (" F ", -7), ("B basso", -13),
    ],
)  # fmt: skip
def test_other_spellings(spelling, semitones):
    assert crook_of(spelling) == semitones


@pytest.mark.parametrize("name", ["Bb", "B-flat", "Ab"])
def test_what_may_be_either_is_asked_for(name):
    with pytest.raises(CoachError, match=r"alto or .* basso"):
        crook_of(name)


@pytest.mark.parametrize("name", ["", "es", "H", "F alto", "7", "D minor", "Bbb"])
def test_no_such_crook(name):
    with pytest.raises(CoachError, match="no horn in"):
        crook_of(name)


@given(st.text(max_size=12), st.sampled_from(["horn", "trumpet"]))
def test_any_text_is_a_crook_or_one_error(text, family):
    try:
        found = crook_of(text, family)
    except CoachError:
        return
    assert crook_of(crook_name(found, family), family) == found


def test_a_transposition_without_a_name_is_told_in_semitones():
    assert crook_name(12) == "+12 semitones"


# Names of parts as printed: common practice, no source.
@pytest.mark.parametrize(
    ("names", "instrument"),
    [
        ("Horn in F 1|F Horn 2|Hrn.|Hn. 3|Corno I in Mi♭|Corni|Cor en fa|Hörner|Waldhorn|Horn"
         "|Bb (alto) Horn 1|B♭ alto Horn|French Horn|Horn in B-flat alto|Trompa 1|Solo Horn",
         "double-horn"),
        ("Natural Horn|Corno naturale", "natural-horn"),
        ("Trumpet in Bb|Tromba I|Trombe|Trompete in D|Trompette|Tpt 1|Trp.|Clarino 1", "trumpet"),
        ("Trombone 1|Posaune|Tromboni|Tbn. 2|Tenor Trombone|Trombone (bass clef)", "trombone"),
        ("Bass Trombone|B. Tbn.|Trombone 3 (bass)|Bassposaune|Trombone basso", "trombone-f"),
        ("Cornet in Bb|Kornett|Cornet à pistons", "cornet"),
        ("Flugelhorn|Flügelhorn 2|Flicorno", "flugelhorn"),
        ("Tuba|Basstuba|Tuben", "tuba"),
        ("Euphonium|Baritone (T.C.)|Tenor Tuba", "euphonium"),
        ("Tenor Horn|Alto Horn in Eb|Althorn", "tenor-horn"),
    ],
)  # fmt: skip
def test_names_of_brass_parts(names, instrument):
    assert instrument in instrument_names()
    for name in names.split("|"):
        assert instrument_of(name) == instrument, name


@pytest.mark.parametrize(
    "name",
    [
        "English Horn", "Cor anglais", "Corno inglese", "Englischhorn", "Basset Horn",
        "Corno di bassetto", "Bass Clarinet", "Violin 1", "Violoncello", "Baritone Saxophone",
        "Alto Trombone", "Bass Trumpet", "Wagner Tuba", "Cornetto", "Flute", "", "Piano",
        "Contralto", "Coro", "Thorn",
    ],
)  # fmt: skip
def test_names_of_other_parts(name):
    assert instrument_of(name) is None


@pytest.mark.parametrize(
    ("name", "sound", "instrument"),
    [
        ("", "program 60", "double-horn"),
        ("Part 1", "program 56", "trumpet"),
        ("Part 1", "program 57", "trombone"),
        ("Part 1", "program 58", "tuba"),
        ("Part 1", "program 40", None),
        ("Part 1", "brass.french-horn", "double-horn"),
        ("Part 1", "brass.trombone.bass", "trombone-f"),
        ("Part 1", "wind.reed.english-horn", None),
        ("English Horn", "program 60", None),
        ("Trombone", "program 60", "trombone"),
    ],
)
def test_what_the_file_says_of_the_sound(name, sound, instrument):
    """Programs 56 to 60 counted from 0: General MIDI Level 1 sound set."""
    assert instrument_of(name, sound) == instrument


def test_the_view_of_a_part():
    view = overview(
        line(
            QUARTERS,
            even([72, 48], 2),
            QUARTERS,
            keys=((0, -3), (4, 1)),
            tempos=((0, 90.0), (8, 72.5)),
            transposition=-10,
            part="Corno in Re",
            numbers=("7", "8", "9"),
        )
    )
    told = view.to_dict()
    assert told["instrument"] == "double-horn"
    assert told["crook"] == "D"
    assert (told["first_bar"], told["last_bar"], told["bars"]) == ("7", "9", 3)
    assert told["keys"] == [{"bar": "7", "fifths": -3}, {"bar": "8", "fifths": 1}]
    assert told["meters"] == [{"bar": "7", "meter": "4/4"}]
    assert told["tempos"] == [{"bar": "7", "quarter_bpm": 90}, {"bar": "9", "quarter_bpm": 72.5}]
    assert told["notes"] == 10
    # Ten semitones below the written C3 and C5.
    assert told["written"] == ["C3", "C5"]
    assert told["sounding"] == ["D2", "D4"]


def test_a_part_of_rests_and_bars_that_come_twice():
    empty = overview(line(REST, REST, tempos=()))
    assert (empty.notes, empty.written, empty.runs, empty.tempos) == (0, None, (), ())
    twice = overview(line(QUARTERS, QUARTERS, indexes=(0, 0)))
    assert (twice.bars, twice.notes) == (1, 8)


def test_the_fastest_run_is_found_with_its_rate():
    """Sixteenths at 120 quarters a minute: 8 notes a second (arithmetic)."""
    (run, *_) = fastest(line(QUARTERS, even(SCALE, SIXTEENTH), QUARTERS))
    # It ends on the quarter note that it leads to.
    assert (run.first, run.last, run.notes) == ("2", "3", 17)
    assert run.rate_hz == pytest.approx(8)
    assert (run.tongued, run.marked) == (17, True)


def test_no_mark_counts_as_120_and_says_so():
    music = even(SCALE, SIXTEENTH)
    (unmarked,) = fastest(line(music, tempos=()))
    assert unmarked.rate_hz == pytest.approx(8)
    assert not unmarked.marked
    (slow,) = fastest(line(music, tempos=((0, 60.0),)))
    assert slow.rate_hz == pytest.approx(4)


def test_a_tempo_change_counts_from_where_it_stands():
    music = even(SCALE, SIXTEENTH)
    first, second = fastest(line(music, REST, music, tempos=((0, 60.0), (8, 150.0))))
    assert (first.first, first.rate_hz) == ("3", pytest.approx(10))
    assert (second.first, second.rate_hz) == ("1", pytest.approx(4))


def test_a_rest_or_a_long_note_ends_a_run():
    six = even(SCALE[:6], SIXTEENTH)
    parted = line([*six, (None, SIXTEENTH, False), *even(SCALE[:5], SIXTEENTH)])
    assert [run.notes for run in fastest(parted)] == [6]
    held = line([*six, (60, 1, False), *six])
    # The run ends on the quarter note; the next begins after it.
    assert [run.notes for run in fastest(held)] == [7, 6]


def test_overlapping_runs_are_told_once():
    """Sixteenths amid eighths: the eighths before and after are no second run over them."""
    eighths = even([60, 62] * 4, Fraction(1, 2))
    runs = fastest(line(eighths, even(SCALE, SIXTEENTH), eighths), most=9)
    assert [run.rate_hz for run in runs] == pytest.approx([8, 4, 4])
    assert sum(run.notes for run in runs) <= 8 + 16 + 8


def test_what_is_repeated_is_one_run():
    music = even(SCALE, SIXTEENTH)
    assert len(fastest(line(music, REST, music, REST, indexes=(0, 1, 0, 1)))) == 1


def test_slurred_notes_are_not_counted_as_tongued():
    (run,) = fastest(line(even(SCALE, SIXTEENTH, slurred=True)))
    assert (run.notes, run.tongued) == (16, 1)


@given(
    st.lists(st.sampled_from([SIXTEENTH, Fraction(1, 2), Fraction(1, 3), 1]), max_size=40),
    st.floats(40, 200),
)
def test_runs_hold_what_they_promise(lengths, bpm):
    """Six notes at least, no printed note in two of them, fastest first."""
    music = [(60 + k % 5, length, False) for k, length in enumerate(lengths)]
    found = fastest(line(music, tempos=((0, bpm),), meter=Meter((40,), 4)), most=50)
    assert all(run.notes >= 6 for run in found)
    assert sum(run.notes for run in found) <= len(lengths)
    # Equal rates may differ by how seconds are rounded.
    rates = [round(run.rate_hz, 2) for run in found]
    assert rates == sorted(rates, reverse=True)
