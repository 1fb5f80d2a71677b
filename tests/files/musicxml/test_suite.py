"""What the files of a public MusicXML test suite mean, as each describes itself.

The expected values are worked out by hand from the files and their descriptions.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

import pytest

from coach.core.score.model import Meter, Score
from coach.errors import FileError
from coach.files.musicxml import read_musicxml
from tests.files.musicxml.making import heads, told

pytestmark = pytest.mark.shared
F = Fraction
# One file of the suite closes an element that it did not open.
BROKEN = {"32ad-Notations5.musicxml"}
# Rests alone, or unpitched notes alone.
SILENT = (
    *("02a", "02b", "02c", "41b", "41f", "41g", "41h", "45a", "45c", "45d", "45e", "45f"),
    *("46a", "51b", "51c", "51d", "52a"),
)


@pytest.fixture
def suite(shared_dir):
    folder = shared_dir / "scores" / "musicxml-test-suite"

    def read(start: str) -> Score:
        (path,) = folder.glob(f"{start}-*")
        return read_musicxml(path.read_bytes(), path.name)

    return read


def names(score: Score, bar: int = 0, part: int = 0) -> str:
    return " ".join(h.written.name for h in heads(score, bar, part))


def lengths(score: Score) -> list[Fraction]:
    return [h.length for part in score.parts for bar in part.bars for h in bar.heads]


def frames(score: Score) -> list[Fraction]:
    return [frame.length for frame in score.frames]


def signs(score: Score, name: str) -> list:
    return [getattr(frame.signs, name) for frame in score.frames]


def test_every_file_gives_notes_or_one_error(shared_dir):
    files = sorted((shared_dir / "scores" / "musicxml-test-suite").iterdir())
    assert len(files) == 150
    for path in files:
        if path.name in BROKEN:
            with pytest.raises(FileError, match="mismatched tag: line 141"):
                read_musicxml(path.read_bytes(), path.name)
            continue
        score = read_musicxml(path.read_bytes(), path.name)
        played = any(bar.heads for part in score.parts for bar in part.bars)
        assert played == (not path.name.startswith(SILENT)), path.name


@pytest.mark.parametrize("name", ["Beethoven_Op.60_3", "Beethoven_Op.21_3", "Brahms_Op.98_3"])
def test_movements_have_notes(shared_dir, name):
    data = (shared_dir / "scores" / "orchestra" / f"{name}.mxl").read_bytes()
    score = read_musicxml(data, name)
    horns = [part for part in score.parts if "Horn" in part.name]
    assert all("horn" in part.sound for part in horns)
    assert all(part.transposition < 0 for part in horns)
    assert all(any(bar.heads for bar in part.bars) for part in horns)


def test_jumps_of_two_movements(shared_dir):
    folder = shared_dir / "scores" / "orchestra"
    minuet = read_musicxml((folder / "Beethoven_Op.21_3.mxl").read_bytes(), "minuet")
    ends = {f.number: f.signs for f in minuet.frames if f.signs.fine or f.signs.jump}
    assert {n: (s.fine, s.jump) for n, s in ends.items()} == {
        "81": (True, ""),
        "141": (False, "capo"),
    }
    scherzo = read_musicxml((folder / "Beethoven_Op.60_3.mxl").read_bytes(), "scherzo")
    told_signs = {f.number: f.signs for f in scherzo.frames}
    assert told_signs["3"].segno == "segno"
    assert told_signs["177"].to_coda == "codab"
    assert (told_signs["183"].jump, told_signs["183"].jump_label) == ("segno", "segno")
    assert told_signs["184"].coda == "codab"


def test_pitches(suite):
    """01a: upward from G, with sharps, with flats, with naturals; double accidentals at last."""
    score = suite("01a")
    all_names = " ".join(names(score, bar) for bar in range(len(score.frames)))
    assert all_names.startswith("G2 A2 B2 C3 D3 E3 F3 G3 A3 B3 C4")
    assert "G#2 A#2 B#2 C#3" in all_names
    assert "Gb2 Ab2 Bb2 Cb3" in all_names
    assert names(score, 26) == "C##5 Cbb5 C#5 C#5"


def test_a_missing_voice_is_the_first(suite):
    (head,) = heads(suite("01c"))
    assert (head.voice, head.written.name) == ("1", "G4")


def test_quarter_tones_go_to_the_plain_letter(suite):
    """01d: flat-and-a-half, half-flat, half-sharp, sharp-and-a-half; in two registers."""
    score = suite("01d")
    assert names(score, 0) == "Cb4 D4 E4 F#4"
    assert names(score, 1) == "Cb5 D5 E5 F#5"
    assert ": 8 (" in score.remarks[0]


def test_rests_leave_the_bars_their_length(suite):
    score = suite("02c")
    assert len(score.frames) == 31
    assert set(frames(score)) == {F(4)}
    assert score.parts[0].bars[0].voices == ((1, "1"),)


def test_note_values(suite):
    """03aa: breve to 64th (the last twice to fill the bar); dotted; doubly dotted."""
    plain = [F(8, 2**n) for n in range(8)]
    dotted = [value * F(3, 2) for value in plain]
    double = [value * F(7, 4) for value in plain[1:7]]
    expected = [*plain, plain[-1], *dotted, dotted[-1], *double, double[-1]]
    assert lengths(suite("03aa")) == expected


def test_long_and_short_note_values(suite):
    """03ab: a long, 64th and 128ths; then dotted; then doubly dotted."""
    score = suite("03ab")
    assert lengths(score)[:4] == [F(16), F(1, 16), F(1, 32), F(1, 32)]
    assert lengths(score)[4:9] == [F(24), F(3, 16), F(3, 32), F(3, 64), F(3, 64)]
    assert [frame.number for frame in score.frames] == ["1", "2", "3", "5", "6", "7"]


def test_going_back_into_the_middle_of_the_bar(suite):
    score = suite("03b")
    assert told(score) == [("C4", 0, 1), ("C4", 1, 1), ("A3", 1, 1), ("A3", 2, 1)]
    assert [head.voice for head in heads(score)] == ["1", "1", "2", "2"]
    assert frames(score) == [F(3)]


def test_divisions_change_within_a_bar(suite):
    score = suite("03c")
    assert [(h.onset, h.length) for h in heads(score)] == [(F(n), F(1)) for n in range(4)]
    assert [(h.onset, h.length) for h in heads(score, 1)] == [(F(0), F(2)), (F(2), F(2))]


def test_many_dots(suite):
    """03d: bars of one note or two; the breve with four dots lasts 31 eighths."""
    score = suite("03d")
    by_number = dict(zip((f.number for f in score.frames), frames(score), strict=True))
    assert by_number["9"] == by_number["10"] == F(5, 4)
    assert by_number["15"] == by_number["16"] == F(31, 2)


def test_time_signatures(suite):
    told_meters = [frame.meter.text for frame in suite("11a").frames]
    assert " ".join(told_meters) == "2/2 4/4 2/2 3/2 2/4 3/4 4/4 5/4 3/8 6/8 12/8"
    assert suite("11b").frames[0].meter == Meter()


def test_compound_time_signatures(suite):
    """11c: (3+2)/8, (5+3+1)/4; 11d: 3/8+2/8+3/4, 5/2+1/8; 11e: (3+2)/8+3/4."""
    assert [f.meter for f in suite("11c").frames] == [Meter((3, 2), 8), Meter((5, 3, 1), 4)]
    score = suite("11d")
    assert [f.meter for f in score.frames] == [Meter((3, 2, 6), 8), Meter((20, 1), 8)]
    assert frames(score) == [F(11, 2), F(21, 2)]
    assert suite("11e").frames[0].meter == Meter((3, 2, 6), 8)


def test_a_single_number_and_no_meter_at_all(suite):
    assert suite("11g").frames[0].meter == Meter((3,), 8)
    free = suite("11h").frames[0]
    assert (free.meter, free.length) == (Meter(), F(3, 2))


def test_chords(suite):
    """21a: F and A; 21c: three-note chords; 21e: after a pick-up; 21f: with signs in between."""
    assert sorted(told(suite("21a"))) == [("A4", 0, 1), ("F4", 0, 1)]
    score = suite("21c")
    onsets = Counter(h.onset for h in heads(score))
    assert onsets == {F(0): 3, F(3, 2): 2, F(2): 3, F(3): 3}
    pickup = suite("21e")
    assert told(pickup, 1) == [
        ("C5", 0, 1),
        ("A4", 0, 1),
        ("F4", 0, 1),
        ("C5", 1, 1),
        ("A4", 1, 1),
    ]
    assert [h.chord for h in heads(pickup, 1)] == [False, True, True, False, True]
    between = suite("21f")
    assert told(between) == [("A4", 0, 1), ("F#4", 0, 1), ("D4", 0, 1)]


def test_tuplets(suite):
    """23a: quarter notes, 3:2 (three times), 4:2, 4:1, 7:3, 6:2."""
    values = lengths(suite("23a"))
    ratios = [(3, F(2, 3))] * 3 + [(4, F(1, 2)), (4, F(1, 4)), (7, F(3, 7)), (6, F(1, 3))]
    assert values[:30] == [value for count, value in ratios for _ in range(count)]


def test_nested_tuplets(suite):
    """23d: 5:2 inside 3:2, all written eighths."""
    score = suite("23d")
    assert lengths(score) == [F(1, 3)] * 2 + [F(2, 15)] * 5 + [F(1, 3)] * 2
    assert frames(score) == [F(2)]


def test_tuplets_without_brackets(suite):
    """23f: triplets of quarters, eighths and 16ths that only their lengths tell."""
    quarters, eighths = [F(1)] * 2 + [F(2, 3)] * 3, [F(1, 2)] * 2 + [F(1, 3)] * 3
    score = suite("23f")
    for staff, expected in ((1, quarters), (2, eighths + [F(1, 4)] * 4 + [F(1, 6)] * 6)):
        assert [h.length for h in heads(score) if h.staff == staff] == expected


def test_grace_notes_stand_before_their_note(suite):
    score = suite("24a")
    first = [(h.written.name, h.onset, h.grace) for h in heads(score)][:5]
    assert first == [
        ("D5", 0, True),
        ("C5", 0, False),
        ("E5", 1, True),
        ("D5", 1, True),
        ("C5", 1, False),
    ]
    assert all(h.length == 0 for h in heads(score) if h.grace)
    assert heads(score, 1)[-1].onset == 4  # after the last note of its bar
    assert names(score, 2).startswith("E5 F4 C5 D#5 C5 Db5 Ab4 C5")


def test_chords_of_grace_notes(suite):
    graces = [h for h in heads(suite("24b")) if h.grace]
    assert [h.written.name for h in graces] == ["D5", "F5", "B4", "D5"]
    assert [h.chord for h in graces] == [False, True, False, True]


def test_grace_notes_after_the_last_note(suite):
    for start in ("24c", "24d"):
        score = suite(start)
        assert [(h.written.name, h.onset) for h in heads(score)][-2:] == [("G5", 4), ("A5", 4)]
        assert frames(score) == [F(4)]


def test_grace_notes_on_another_staff(suite):
    assert [h.staff for h in heads(suite("24e"))] == [1, 2, 2, 1]


def test_a_slur_from_a_grace_note(suite):
    assert [h.slurred for h in heads(suite("24f"))] == [False, False, True]


def test_a_tie_over_the_bar_line(suite):
    score = suite("33b")
    (first,), (second,) = heads(score), heads(score, 1)
    assert (first.tied_back, first.tied_on) == (False, True)
    assert (second.tied_back, second.tied_on) == (True, False)


def test_ties_that_never_end(suite):
    score = suite("33i")
    backs = [heads(score, bar)[0].tied_back for bar in range(5)]
    assert backs == [False, False, True, False, True]


def test_slurs(suite):
    """33c: three slurs end to end; then one over all four notes, one inside it."""
    score = suite("33c")
    for bar in (0, 1):
        assert [h.slurred for h in heads(score, bar)] == [False, True, True, True]


def test_slurs_on_chords(suite):
    """33g: from the first chord to the third, from there on to the last note."""
    slurred = {(h.onset, h.slurred) for h in heads(suite("33g"))}
    assert slurred == {(F(0), False), (F(1), True), (F(2), True), (F(3), True)}


def test_octave_signs_do_not_move_the_pitch(suite):
    """33d: two octaves up, down, one up, down: the pitch is what sounds."""
    assert names(suite("33d")) == "A4 C5 A6 C3 B2 A5 A5 B3 C4"


def test_parts_in_the_order_of_their_list(suite):
    """41a: P0 to P3."""
    score = suite("41a")
    assert [p.name for p in score.parts] == ["Part 1", "Part 2", "Part 3", "Part 4"]
    assert [names(score, 0, part) for part in range(4)] == ["C4", "E4", "G4", "B4"]


def test_names_of_parts(suite):
    assert "\n" not in suite("41e").parts[0].name
    assert suite("41g").parts[0].name == "MusicXML Part"
    many = suite("41h")
    assert len(many.parts) == 3
    assert many.remarks == ("Parts that are not in the list of parts: 2.",)


def test_two_voices_on_one_staff(suite):
    score = suite("42a")
    assert score.parts[0].bars[0].voices == ((1, "1"), (1, "2"))
    assert {h.voice for h in heads(score)} == {"1", "2"}


def test_a_clef_change_holds_from_its_place_in_its_staff(suite):
    """42b: in the middle of bar 84 staff 1 goes to the bass clef, in bar 85 back."""
    score = suite("42b")
    upper = [(h.onset, h.clef) for h in heads(score) if h.staff == 1]
    assert upper == [(0, "G"), (F(1, 2), "G"), (1, "G"), (F(3, 2), "F"), (2, "F")]
    assert {h.clef for h in heads(score) if h.staff == 2} == {"F"}
    assert {h.clef for h in heads(score, 1) if h.staff == 1} == {"G"}


def test_staves(suite):
    """43a-43c: two staves with keys of their own; the first staff's counts."""
    assert [(h.staff, h.clef) for h in heads(suite("43a"))] == [(1, "G"), (2, "F")]
    for start in ("43b", "43c"):
        score = suite(start)
        assert [(h.written.name, h.staff, h.clef) for h in heads(score)] == [
            ("F4", 1, "G"),
            ("B2", 2, "F"),
        ]
        assert score.parts[0].bars[0].keys == ((0, 0),)


def test_a_voice_over_two_staves(suite):
    score = suite("43d")
    assert [h.staff for h in heads(score)] == [2, 1, 2, 1, 1, 1, 2, 2]
    assert {h.voice for h in heads(score)} == {"2"}


def test_repeats(suite):
    """45a: played five times; 45c: 5 and 3 times; 45g: a beginning without an end."""
    assert signs(suite("45a"), "plays") == [5, 0]
    nested = suite("45c")
    assert signs(nested, "plays") == [0, 0, 5, 0, 0, 0, 3, 0]
    assert signs(nested, "forward") == [n == 1 for n in range(8)]
    assert signs(suite("45g"), "forward") == [False, True]


def test_endings(suite):
    """45b: two alternatives of one bar; 45d: five, of 1, 3, 4, 1 and 1 bars."""
    score = suite("45b")
    assert [sorted(e) for e in signs(score, "endings")] == [[], [1], [2], []]
    assert signs(score, "plays") == [0, 2, 0, 0]
    many = [sorted(e) for e in signs(suite("45d"), "endings")]
    assert many == [[], [1], [2], [2], [2], [3], [3], [3], [3], [4], [5], []]
    two = suite("45e")
    assert [sorted(e) for e in signs(two, "endings")] == [
        [],
        [1],
        [2],
        [],
        [],
        [],
        [1],
        [2],
        [],
        [],
    ]
    assert [n for n, f in enumerate(signs(two, "forward")) if f] == [4, 5, 7]
    wrong = [sorted(e) for e in signs(suite("45f"), "endings")]
    assert wrong == [[], [1, 2, 3], [2], [], []]


def test_a_bar_line_inside_a_bar_changes_nothing(suite):
    assert told(suite("46b")) == [("C5", 0, 1), ("A4", 1, 1), ("F4", 2, 1), ("C5", 3, 1)]


def test_clefs_inside_bars(suite):
    score = suite("46c")
    assert frames(score) == [4, 2, 2, 4]
    assert [f.implicit for f in score.frames] == [False, False, True, False]
    assert [h.clef for h in heads(score, 2)] == ["C", "C"]
    assert [h.clef for h in heads(score, 3)] == ["C", "C", "G", "G"]


def test_pick_ups_and_incomplete_bars(suite):
    """46d: 3/8 as pick-up, a bar split into two, a bar of 3/4, all in 4/4."""
    score = suite("46d")
    assert frames(score) == [F(3, 2), 2, 2, 3]
    assert [f.number for f in score.frames] == ["0", "1", "X1", "2"]
    assert [f.implicit for f in score.frames] == [True, False, True, False]
    assert {f.meter for f in score.frames} == {Meter()}
    late = suite("46e")
    assert [(h.written.name, h.onset) for h in heads(late, 1) if h.voice == "2"] == [("C4", 1)]
    assert frames(suite("46f")) == [2, 4, 2, 4]


def test_transposing_instruments(suite):
    """72a: the C major scale sounds on all three; 72b: a c'' sounds, but for the last but one,
    where c' is shown and f sharp, three octaves and a tritone higher, sounds."""
    score = suite("72a")
    assert [p.transposition for p in score.parts] == [-2, -9, 0]
    for part in range(3):
        sounding = [h.sounding for bar in (0, 1) for h in heads(score, bar, part)]
        assert sounding == [60, 62, 64, 65, 67, 69, 71, 72]
    assert [p.bars[0].keys for p in score.parts] == [((0, 2),), ((0, 3),), ((0, 0),)]
    for start in ("72b", "72d"):
        all_heads = [heads(suite(start), 0, part)[0] for part in range(11)]
        assert [h.sounding for h in all_heads] == [72] * 11
        assert all_heads[3].written.name == "G5"  # horn in F


def test_an_instrument_change(suite):
    """72c: clarinet in E flat, then in B flat; the same printed c'."""
    score = suite("72c")
    assert score.parts[0].transposition == 3
    assert [heads(score, bar)[0].sounding for bar in range(3)] == [63, 58, 58]
    assert score.parts[0].bars[0].keys == ((0, 1),)
    assert score.parts[0].bars[1].keys == ((0, 0),)


def test_a_zipped_file(suite):
    score = suite("90a")
    assert score.title == "Compressed MusicXML file"
    assert names(score) == "C#4 C#4 C#4 C#4"
