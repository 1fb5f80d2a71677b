"""Notes of ABC: pitch, length, accidentals, tuplets, slurs, ties, marks, words.

Cases marked "ABC 2.1" are rules or examples of the ABC standard, version 2.1
(abcnotation.com/wiki/abc:standard:v2.1), written down from memory.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from coach.core.pitch import Spelled
from tests.files.abc.making import heads, lengths, names, read, tune

F = Fraction


def test_letters_and_octave_marks():
    """ABC 2.1, 4.1: C is middle C, c the octave above; each comma an octave down, ' one up."""
    assert names(read(tune("C,, C, C c c' c'' C'"))) == "C2 C3 C4 C5 C6 C7 C5"


def test_accidentals():
    """ABC 2.1, 4.2: ^ _ = ^^ __."""
    assert names(read(tune("^C _B =F ^^G __A", key="D"))) == "C#4 Bb4 F4 G##4 Abb4"


def test_an_accidental_lasts_to_the_end_of_the_bar_in_all_octaves():
    """ABC 2.1, 11.3 (from memory): "pitch" is the default."""
    score = read(tune("^F F f F | F =F F f", key="C"))
    assert names(score) == "F#4 F#4 F#5 F#4 F4 F4 F4 F5"


@pytest.mark.parametrize(
    ("lasting", "expected"),
    [
        ("octave", "F#4 F#4 F5 F4"),
        ("pitch", "F#4 F#4 F#5 F4"),
        ("not", "F#4 F4 F5 F4"),
    ],
)
@pytest.mark.parametrize("form", ["%%{}\n", "I:{}\n"])
def test_an_instruction_says_how_far_an_accidental_lasts(lasting, expected, form):
    """ABC 2.1, 11.3."""
    instruction = form.format(f"propagate-accidentals {lasting}")
    assert names(read(tune("^F F f | F", more=instruction))) == expected
    assert names(read(tune(f"{instruction}^F F f | F"))) == expected


def test_a_tie_takes_the_accidental_over_the_bar_line():
    score = read(tune("^F8- | F4 F4", key="C"))
    assert names(score) == "F#4 F#4 F4"
    assert [(h.tied_back, h.tied_on) for h in heads(score)] == [
        (False, True),
        (True, False),
        (False, False),
    ]


def test_lengths():
    """ABC 2.1, 4.3: A/2 and A/ the half, A// the quarter, A3/2, A4; A3/ is three halves."""
    score = read(tune("A A/2 A/ A// A/4 A3/2 A3/ A4 A3//", unit="1/4"))
    halves = [F(1), F(1, 2), F(1, 2), F(1, 4), F(1, 4), F(3, 2), F(3, 2), F(4), F(3, 4)]
    assert lengths(score) == halves


@pytest.mark.parametrize(
    ("meter", "unit"),
    [("2/4", F(1, 16)), ("5/8", F(1, 16)), ("3/4", F(1, 8)), ("4/4", F(1, 8)), ("C|", F(1, 8))],
)
def test_the_usual_unit_of_length(meter, unit):
    """ABC 2.1, 3.1.7: below 0.75 the unit is a sixteenth, else an eighth."""
    score = read(f"X:1\nM:{meter}\nK:C\nC|\n")
    assert lengths(score) == [4 * unit]


@pytest.mark.parametrize(
    ("arrows", "first", "second"),
    [
        (">", F(3, 2), F(1, 2)),
        ("<", F(1, 2), F(3, 2)),
        (">>", F(7, 4), F(1, 4)),
        ("<<", F(1, 4), F(7, 4)),
        (">>>", F(15, 8), F(1, 8)),
    ],
)
@pytest.mark.parametrize("form", ["A{}B", "A {} B", "A{}{{g}}B", "A {{g}} {} B"])
def test_broken_rhythm(arrows, first, second, form):
    """ABC 2.1, 4.4: a>b is a3/2 b/2, a>>b a7/4 b/4; a grace note between changes nothing."""
    score = read(tune(form.format(arrows), unit="1/4"))
    assert [h.length for h in heads(score) if not h.grace] == [first, second]


def test_broken_rhythm_between_chords_and_rests():
    assert lengths(read(tune("[CE]>[DF] A>z B<c", unit="1/4"))) == [
        F(3, 2),
        F(3, 2),
        F(1, 2),
        F(1, 2),
        F(3, 2),
        F(1, 2),
        F(3, 2),
    ]


@pytest.mark.parametrize(
    ("p", "simple", "compound"),
    [
        (2, F(3, 2), F(3, 2)),
        (3, F(2, 3), F(2, 3)),
        (4, F(3, 4), F(3, 4)),
        (5, F(2, 5), F(3, 5)),
        (6, F(2, 6), F(2, 6)),
        (7, F(2, 7), F(3, 7)),
        (8, F(3, 8), F(3, 8)),
        (9, F(2, 9), F(3, 9)),
    ],
)
def test_what_a_tuplet_is_in_the_time_of(p, simple, compound):
    """ABC 2.1, 4.13: the table of (2 to (9; n is 3 in 6/8, 9/8, 12/8, else 2."""
    notes = "CDEFGABcd"[:p]
    for meter, factor in (("4/4", simple), ("3/4", simple), ("6/8", compound), ("12/8", compound)):
        score = read(tune(f"({p}{notes}C", meter=meter, unit="1/4"))
        assert lengths(score) == [factor] * p + [1], meter


@pytest.mark.parametrize(
    ("spec", "factor", "count"),
    [("(3::", F(2, 3), 3), ("(3:2", F(2, 3), 3), ("(3:2:2", F(2, 3), 2), ("(3::2", F(2, 3), 2)],
)
def test_tuplets_with_more_numbers(spec, factor, count):
    """ABC 2.1, 4.13: (p:q:r puts p notes into the time of q for the next r notes."""
    expected = [factor if place < count else F(1) for place in range(4)]
    assert lengths(read(tune(f"{spec} CDEF", unit="1/4"))) == expected


def test_in_tuplets_rests_and_chords_count_and_grace_notes_do_not():
    score = read(tune("(3 z {g}[CE] D F", unit="1/4"))
    assert [h.length for h in heads(score) if not h.grace] == [F(2, 3), F(2, 3), F(2, 3), F(1)]
    assert heads(score)[-1].onset == 2


def test_chords():
    """ABC 2.1, 4.17: [C2E2G2]3 is [CEG]6; the first note's length is that of the chord."""
    score = read(tune("[C2E2G2]3 [CE2]D", unit="1/8"))
    assert lengths(score) == [3, 3, 3, F(1, 2), 1, F(1, 2)]
    assert [h.chord for h in heads(score)] == [False, True, True, False, True, False]
    assert [h.onset for h in heads(score)] == [0, 0, 0, 3, 3, F(7, 2)]


def test_grace_notes():
    """ABC 2.1, 4.12: {g} and {/g} take no time of their own."""
    score = read(tune("{g}A {/ge}B C", unit="1/4"))
    found = [(h.written.name, h.grace, h.onset, h.length) for h in heads(score)]
    assert found == [
        ("G5", True, 0, 0),
        ("A4", False, 0, 1),
        ("G5", True, 1, 0),
        ("E5", True, 1, 0),
        ("B4", False, 1, 1),
        ("C4", False, 2, 1),
    ]


@pytest.mark.parametrize(
    ("music", "slurred"),
    [
        ("(CD)E", "D"),
        ("(CDE)F", "DE"),
        ("(C(DE)F)G", "DEF"),
        ("(C D (E) F G) A", "DEFG"),
        (".(CD) E", "D"),
        ("((3CDE) F", "DE"),
        ("(3(CDE) F", "DE"),
        ("({g}C D) E", "D"),
        ("C ({g}D E) F", "E"),
        ("(CD | EF) G", "DEF"),
        ("(CD)(EF) G", "DF"),
        ("(CD (E)F) G", "DEF"),
    ],
)
def test_slurs(music, slurred):
    """A note is slurred where its slur began on an earlier one that takes time.  "(c d (e) f g a)"
    is how ABC 2.1, 4.11, lets two slurs meet on a note."""
    found = [h for h in heads(read(tune(music, unit="1/4"))) if not h.grace]
    assert "".join(h.written.letter for h in found if h.slurred) == slurred


def test_a_slur_without_an_end_slurs_nothing_and_is_told():
    stray = read(tune("(CD EF) GA) Bc"))
    assert [h.slurred for h in heads(stray)] == [False, True, True, True] + [False] * 4
    open_ended = read(tune("(CD EF | GA Bc"))
    assert not any(h.slurred for h in heads(open_ended))
    for score in (stray, open_ended):
        assert score.remarks == ("Slurs without a beginning or an end were passed over: 1.",)


def test_ties_in_chords():
    score = read(tune("[CE-]2 [CE]2 [GB]2-[GB]2"))
    found = [(h.written.name, h.tied_back, h.tied_on) for h in heads(score)]
    assert found == [
        ("C4", False, False),
        ("E4", False, True),
        ("C4", False, False),
        ("E4", True, False),
        ("G4", False, True),
        ("B4", False, True),
        ("G4", True, False),
        ("B4", True, False),
    ]


@pytest.mark.parametrize(
    ("sign", "mark"),
    [
        (".", "staccato"),
        ("L", "accent"),
        ("!accent!", "accent"),
        ("!>!", "accent"),
        ("!emphasis!", "accent"),
        ("+accent+", "accent"),
        ("!tenuto!", "tenuto"),
        ("H", "fermata"),
        ("!fermata!", "fermata"),
        ("T", "trill"),
        ("!trill!", "trill"),
    ],
)
def test_marks(sign, mark):
    first, second = heads(read(tune(f"{sign}C D")))
    assert (first.marks, second.marks) == ({mark}, frozenset())


@pytest.mark.parametrize(
    "sign", ["u", "v", "~", "!mp!", "!crescendo(!", '"Am7"', '"^dolce"', "y", "`"]
)
def test_what_changes_no_note(sign):
    score = read(tune(f"{sign}C D"))
    assert names(score) == "C4 D4"
    assert all(not h.marks and h.fingering is None for h in heads(score))


@pytest.mark.parametrize(
    ("text", "fingering"),
    [
        ('"^T12"', "T12"),
        ('"_0"', "0"),
        ('"<H23"', "H23"),
        ('"T12"', None),
        ('"^12a"', None),
        ("!1!", "1"),
        ("!5!", "5"),
    ],
)
def test_fingerings(text, fingering):
    first, second = heads(read(tune(f"{text}C D")))
    assert (first.fingering, second.fingering) == (fingering, None)


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ("ta ka ta", ["ta", "ka", "ta", None, None]),
        ("ta-ka-da", ["ta", "ka", "da", None, None]),
        ("ta * ka _ ta", ["ta", None, "ka", None, "ta"]),
        ("ta | ka", ["ta", None, None, "ka", None]),
        ("one ta ka", [None] * 5),
    ],
)
def test_words_are_kept_where_they_are_tonguing(words, expected):
    """ABC 2.1, 5.1: signs of aligned words."""
    score = read(tune(f"C D z E | F {{g}}G\nw: {words}"))
    assert [h.syllable for h in heads(score) if not h.grace] == expected


def test_words_go_under_the_notes_since_the_last_words():
    score = read(tune("C D | E F\nw: ta ka * la\nG A |\nw: du gu"))
    assert [h.syllable for h in heads(score)] == ["ta", "ka", None, "la", "du", "gu"]


@pytest.mark.parametrize(
    ("key", "expected"),
    [
        ("C", 0),
        ("Am", 0),
        ("A minor", 0),
        ("G Mixolydian", 0),
        ("D dor", 0),
        ("Ephr", 0),
        ("F lydian", 0),
        ("B loc", 0),
        ("C ionian", 0),
        ("Aaeo", 0),
        ("F#", 6),
        ("G#m", 5),
        ("Bb", -2),
        ("Ebm", -6),
        ("none", 0),
        ("", 0),
        ("HP", 2),
        ("Hp", 2),
        ("D Phr ^f", -2),
        ("D exp _b _e", -2),
        ("C clef=bass", 0),
    ],
)
def test_keys(key, expected):
    """ABC 2.1, 3.1.14: the seven modes on the white keys share the signature of C; K:HP has F sharp
    and C sharp.  "D Phr ^f" of the standard has a signature of no key: the nearest is told."""
    score = read(tune("C", key=key))
    found = score.parts[0].bars[0].keys[0][1]
    assert found == expected or (key == "D Phr ^f" and abs(found - expected) <= 1)


def test_explicit_accidentals_of_a_key():
    assert names(read(tune("DEFGABc", key="D Phr ^f"))) == "D4 Eb4 F#4 G4 A4 Bb4 C5"
    assert names(read(tune("DEFGAB", key="D exp _b _e ^f"))) == "D4 Eb4 F#4 G4 A4 Bb4"
    assert names(read(tune("FC G", key="Hp"))) == "F#4 C#4 G4"


def test_a_key_changes_at_its_place():
    score = read(tune("F4 F4 | F2 [K:D] F2 F4 |\nK:F\nB8"))
    assert names(score) == "F4 F4 F4 F#4 F#4 Bb4"
    assert [bar.keys for bar in score.parts[0].bars] == [((0, 0),), ((1, 2),), ((0, -1),)]


@pytest.mark.parametrize(
    ("text", "quarter_bpm"),
    [
        ("1/4=120", 120),
        ("3/8=60", 90),
        ("1/2=60", 120),
        ("1/4 3/8 1/4 3/8=40", 200),
        ('"Allegro" 1/4=132', 132),
        ('3/8=50 "Slowly"', 75),
        ("120", 60),
        ("C3=40", 60),
        ("1/4=92.5", 92.5),
    ],
)
def test_tempo(text, quarter_bpm):
    """ABC 2.1, 3.1.8 and 10.1: old files count units of L:, an eighth here."""
    score = read(tune("C8", more=f"Q:{text}\n"))
    assert score.frames[0].tempos == ((0, quarter_bpm),)


def test_a_tempo_in_words_alone_is_none():
    assert read(tune("C8", more='Q:"Allegro"\n')).frames[0].tempos == ()


def test_tempo_changes_inside():
    score = read(tune("C8 | C4 [Q:1/4=90] C4", more="Q:1/4=60\n"))
    assert [frame.tempos for frame in score.frames] == [((0, 60),), ((2, 90),)]


@pytest.mark.parametrize(
    ("key", "written", "sounding", "clef"),
    [
        ("C transpose=-7", Spelled("C", 0, 4), 53, "G"),
        ("C octave=-1", Spelled("C", 0, 3), 48, "G"),
        ("C clef=treble-8", Spelled("C", 0, 3), 48, "G"),
        ("C clef=treble+8", Spelled("C", 0, 5), 72, "G"),
        ("C bass", Spelled("C", 0, 4), 60, "F"),
        ("C clef=alto", Spelled("C", 0, 4), 60, "C"),
        ("C clef=bass middle=d transpose=2", Spelled("C", 0, 4), 62, "F"),
    ],
)
def test_transposition_octave_and_clef(key, written, sounding, clef):
    """ABC 2.1, 4.6: transpose= is for the player only; octave= is as so many commas."""
    (head,) = heads(read(tune("C", key=key)))
    assert (head.written, head.sounding, head.clef) == (written, sounding, clef)
