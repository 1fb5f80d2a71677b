"""Bars of ABC: numbers, repeats, endings, jumps, voices, overlays, and what a file holds.

"ABC 2.1" marks rules of the standard, written down from memory.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from coach.core.score.model import Meter, Signs
from coach.core.score.roadmap import played_order
from tests.files.abc.making import heads, names, read, tune

F = Fraction


def order(music: str) -> tuple[int, ...]:
    signs = [frame.signs for frame in read(tune(music)).frames]
    return played_order(signs, 0, len(signs) - 1)


def numbers(music: str, **how) -> list[tuple[str, bool]]:
    return [(frame.number, frame.implicit) for frame in read(tune(music, **how)).frames]


@pytest.mark.parametrize(
    ("music", "bars"),
    [
        ("C8 | D8 |]", (0, 1)),
        ("|: C8 | D8 :| E8 |", (0, 1, 0, 1, 2)),
        ("C8 | D8 :| E8 |", (0, 1, 0, 1, 2)),
        ("|: C8 :: D8 :|", (0, 0, 1, 1)),
        ("|: C8 :||: D8 :|", (0, 0, 1, 1)),
        ("|: C8 :|: D8 :|", (0, 0, 1, 1)),
        ("|:: C8 ::|", (0, 0, 0)),
        ("|: C8 |1 D8 :|2 E8 |] F8", (0, 1, 0, 2, 3)),
        ("|: C8 | [1 D8 :| [2 E8 || F8", (0, 1, 0, 2, 3)),
        ("|: C8 |1,3 D8 :|2 E8 :|4 F8 |]", (0, 1, 0, 2, 0, 1, 0, 3)),
        ("|: C8 |1-3 D8 :|4 F8 |]", (0, 1, 0, 1, 0, 1, 0, 2)),
        ("[| C8 | D8 |\n:| E8 |", (0, 1, 0, 1, 2)),
        ("C8 | !segno!D8 | E8 !fine! | F8 !D.S.! |]", (0, 1, 2, 3, 1, 2)),
        ("C8 | D8 !fine! | E8 |] !D.C.!", (0, 1, 2, 0, 1)),
        ("C8 | D8 !dacoda! | E8 !D.C.alcoda! | !coda!F8 |]", (0, 1, 2, 0, 1, 3)),
        ("C8 | D8 O | E8 !D.C.! | O F8 |]", (0, 1, 2, 0, 1, 3)),
        ("S C8 | D8 !D.S.! |]", (0, 1, 0, 1)),
    ],
)
def test_repeats_endings_and_jumps(music, bars):
    """ABC 2.1, 4.8 to 4.10: |:: ::| is played three times; endings may be lists and ranges."""
    assert order(music) == bars


def test_the_pick_up_and_the_numbers():
    assert numbers("G2 | C8 | D8 |]") == [("0", True), ("1", False), ("2", False)]
    assert numbers("C8 | D8 |]") == [("1", False), ("2", False)]


def test_a_bar_split_by_a_repeat_has_one_number():
    found = numbers("G2 |: C8 | D6 :|: G2 | C8 | D6 :|")
    assert found == [
        ("0", True),
        ("1", False),
        ("2", False),
        ("2", True),
        ("3", False),
        ("4", False),
    ]


def test_endings_that_begin_in_the_middle_of_a_bar():
    score = read(tune("|: C8 | D4 [1 E4 :| [2 F4 || C8 |]"))
    found = [(frame.number, frame.implicit, frame.length) for frame in score.frames]
    assert found == [
        ("1", False, 4),
        ("2", False, 2),
        ("2", True, 2),
        ("2", True, 2),
        ("3", False, 4),
    ]
    signs = [frame.signs for frame in score.frames]
    assert played_order(signs, 0, 4) == (0, 1, 2, 0, 1, 3, 4)


def test_accidentals_last_into_the_ending_of_the_same_bar():
    assert names(read(tune("^F4 [1 F4 :| [2 F4 |]"))) == "F#4 F#4 F4"


@pytest.mark.parametrize(
    ("text", "meter"),
    [
        ("C", Meter((4,), 4)),
        ("C|", Meter((2,), 2)),
        ("6/8", Meter((6,), 8)),
        ("2+3/8", Meter((2, 3), 8)),
        ("(2+3)/8", Meter((2, 3), 8)),
        ("(2 + 2 + 3)/8", Meter((2, 2, 3), 8)),
    ],
)
def test_meters(text, meter):
    """ABC 2.1, 3.1.6."""
    assert read(tune("C", meter=text)).frames[0].meter == meter


def test_a_meter_changes():
    score = read(tune("C8 | [M:3/4] D6 |\nM:2/4\nE4 | F4 |"))
    assert [frame.meter.text for frame in score.frames] == ["4/4", "3/4", "2/4", "2/4"]


def test_without_a_meter_each_bar_has_its_own():
    score = read(tune("C5 | D4 | E3/2 |", meter="none"))
    assert [frame.meter.text for frame in score.frames] == ["5/8", "2/4", "3/16"]
    assert [frame.implicit for frame in score.frames] == [False] * 3


def test_rests_of_one_and_of_many_bars():
    """ABC 2.1, 4.5: Z4 is four bars."""
    score = read(tune("C8 | Z2 | z4 D4 | X | Z |", meter="4/4"))
    assert [frame.length for frame in score.frames] == [4] * 6
    (voices,) = {bar.voices for bar in score.parts[0].bars if bar.voices}
    assert voices == ((1, "1"),)
    assert [bool(bar.voices) for bar in score.parts[0].bars] == [
        True,
        True,
        True,
        True,
        False,
        True,
    ]


def test_voices_are_parts_over_common_bars():
    score = read(
        "X:1\nM:4/4\nL:1/4\n"
        'V:a name="Horn 1" transpose=-7\nV:b nm="Tuba" clef=bass octave=-2\n'
        "K:C\nV:a\nCDEF | GABc |\nV:b\nC4 | C2 [V:a] C4 | [V:b] C2 |\n"
    )
    assert [part.name for part in score.parts] == ["Horn 1", "Tuba"]
    assert [part.transposition for part in score.parts] == [-7, 0]
    assert [len(part.bars) for part in score.parts] == [3, 3]
    assert [frame.length for frame in score.frames] == [4, 4, 4]
    assert names(score, 1) == "C2 C2 C2"
    assert {head.clef for head in heads(score, 1)} == {"F"}
    assert [head.sounding for head in heads(score)][:2] == [53, 55]


def test_an_overlay_is_another_voice_of_the_bar():
    """ABC 2.1, 7.4: & goes back to the start of the bar."""
    score = read(tune("C8 & G4 A4 | D8 |"))
    found = [(h.voice, h.written.name, h.onset) for h in heads(score)]
    assert found == [("1", "C4", 0), ("2", "G4", 0), ("2", "A4", 2), ("1", "D4", 0)]
    assert score.parts[0].bars[0].voices == ((1, "1"), (1, "2"))
    assert score.frames[0].length == 4


def test_comments_continuations_blocks_and_instructions():
    score = read(
        "%abc-2.1\n%%pagewidth 21cm\n\nX:1 % one\nT:A tune of 100\\% % no more\n"
        "M:4/4\nL:1/4\nI:linebreak $\nN:note\nR:reel\nK:C % key\n"
        "CDEF | \\\nGABc % up\n%%begintext\nDEF\n%%endtext\nr:remark\n| c4 |]\n"
    )
    assert score.title == "A tune of 100%"
    assert names(score) == "C4 D4 E4 F4 G4 A4 B4 C5 C5"
    assert score.remarks == ()


def test_the_first_tune_with_notes_is_the_score():
    score = read(
        "M:3/4\n\nWords that are no tune.\n\nX:1\nT:Empty\nK:C\n\n"
        "X:2\nT:Second\nL:1/4\nK:G\nGAB|\n\nMore words: CDE\n\nX:3\nT:Third\nK:C\nc|\n"
    )
    assert (score.title, names(score)) == ("Second", "G4 A4 B4")
    assert score.frames[0].meter == Meter((3,), 4)
    assert "Empty, Third" in score.remarks[0]


def test_a_blank_line_ends_the_tune():
    assert names(read("X:1\nK:C\nCD|\n\nEF|\n")) == "C4 D4"


def test_a_tune_without_a_number_is_read():
    assert names(read("T:No number\nM:4/4\nK:C\nCD|\n")) == "C4 D4"


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_line_ends(ending):
    assert names(read(tune("CD|EF|").replace("\n", ending))) == "C4 D4 E4 F4"


def test_dotted_thick_and_invisible_bar_lines():
    """ABC 2.1, 4.8: sequences of |, [, ], : in any shape are bar lines."""
    score = read(tune("C8 .| D8 || E8 [|] F8 |[| G8 |]"))
    assert [frame.length for frame in score.frames] == [4] * 5
    assert {frame.signs for frame in score.frames} == {Signs()}


def test_what_was_passed_over_is_told():
    score = read("X:1\nP:AABB\nm:~G2 = {A}G{F}G\nK:C\n-C # D > |\nw: some words\n")
    told = " ".join(score.remarks)
    for word in ("order of parts", "Macros", "Signs", "Broken", "Ties", "words"):
        assert word in told
    assert [h.length for h in heads(score)] == [F(1, 2)] * 2
