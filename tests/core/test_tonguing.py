"""Syllables against what brass teachers have students say: common practice, no source, except where
a source stands beside the check."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coach.core.exercise import Exercise
from coach.core.passage import Note, Passage
from coach.core.timeline import plan_take
from coach.core.tonguing import (
    ORDERS,
    STYLES,
    Spoken,
    Style,
    single_up_to_bpm,
    tongue,
    with_syllables,
    without_syllables,
)
from coach.files.drillshelf import load_drill
from coach.files.notewords import in_order, note_of

FAST, SLOW = 150.0, 60.0  # sixteenths: 10 and 4 a second, around the usual limit of 8
COMPOUND = {"bar_beats": Fraction(3), "pulse_beats": Fraction(3, 2)}


def passage_of(text: str, **meter: Fraction) -> Passage:
    """Notes in the words of drill files, parted by commas; a pitch may be left out (G4)."""
    entries = []
    for words in text.split(","):
        words = words.strip()
        entries.append(note_of(words if words[0].isalpha() else f"G4 {words}"))
    return Passage(tuple(in_order(entries)[0]), **meter)


def row(count: int, length: str, **meter: Fraction) -> Passage:
    return passage_of(", ".join([length] * count), **meter)


def said(passage: Passage, tempo_bpm: float = FAST, style: Style | None = None) -> str:
    """ "ta ka - ta": a hyphen for a slurred note."""
    return " ".join(s.syllable or "-" for s in tongue(passage, tempo_bpm, style))


def why(passage: Passage, index: int, tempo_bpm: float = FAST, style: Style | None = None) -> str:
    return tongue(passage, tempo_bpm, style or Style())[index].reason


# -- single, double, triple by the note rate and the beat ------------------------------------------


def test_slow_notes_are_single():
    assert said(row(8, "1/16"), SLOW) == "ta " * 7 + "ta"
    assert why(row(8, "1/16"), 0, SLOW) == "single: no run over 8 notes a second"
    assert [s.reason for s in tongue(row(8, "1/16"), SLOW)][1:] == [""] * 7


def test_four_in_a_beat_are_double():
    assert said(row(8, "1/16")) == "ta ka ta ka ta ka ta ka"
    assert why(row(8, "1/16"), 0) == "double: 10 notes a second, single goes to 8"
    assert [s.reason for s in tongue(row(8, "1/16"), FAST)][1:] == [""] * 7


def test_two_and_eight_in_a_beat_are_double():
    assert said(row(4, "1/8"), 260) == "ta ka ta ka"
    assert said(row(8, "1/32"), 75) == "ta ka ta ka ta ka ta ka"


@pytest.mark.parametrize(("length", "tempo"), [("1/12", 200.0), ("1/24", 100.0)])
def test_three_and_six_in_a_beat_are_triple(length, tempo):
    assert said(row(6, length), tempo) == "ta ta ka ta ta ka"


def test_twelve_in_a_beat_are_triple():
    assert said(row(12, "1/48"), 50) == " ".join(["ta ta ka"] * 4)


def test_compound_meter_is_triple():
    assert said(row(6, "1/8", **COMPOUND), 200) == "ta ta ka ta ta ka"
    assert said(row(12, "1/16", **COMPOUND), 100) == " ".join(["ta ta ka"] * 4)


def test_four_in_a_compound_beat_are_double():
    assert said(row(8, "3/32", **COMPOUND), 150) == "ta ka ta ka ta ka ta ka"


def test_orders_of_triple():
    """ta-ta-ka, ta-ka-ta and ta-ka-ta-ka-ta-ka are the orders that Wikipedia's article "Tonguing"
    lists (read in notes made from it)."""
    triplets = row(6, "1/12")
    for order, expected in zip(
        ORDERS, ("ta ta ka ta ta ka", "ta ka ta ta ka ta", "ta ka ta ka ta ka"), strict=True
    ):
        assert said(triplets, 200, Style(order=order)) == expected


def test_alternating_triple_tells_of_the_back_over_the_beats():
    reason = why(row(6, "1/12"), 0, 200, Style(order="tktktk"))
    assert reason.startswith("triple, ta ka by turns over the beats")


def test_spelling():
    assert said(row(4, "1/16"), FAST, Style("da", "ga")) == "da ga da ga"


@pytest.mark.parametrize(
    ("limit", "expected"), [(7.3, "ta ka ta ka"), (8.0, "ta ka ta ka"), (8.2, "ta ta ta ta")]
)
def test_the_players_limit_decides(limit, expected):
    """Amateurs, students, professionals: 7.3, 8.0, 8.2 single-tongued notes a second (206 brass
    players, DAGA 2021, conference abstract).  Sixteenths at 122 are 8.13 a second."""
    assert said(row(4, "1/16"), 122, Style(single_limit_hz=limit)) == expected


def test_on_the_limit_is_still_single():
    assert said(row(4, "1/16"), 120) == "ta ta ta ta"
    # In floats 7 * (7.3 * 60 * (1 / 7) / 60) comes out above 7.3.
    sevenths = Passage(tuple(Note(60, Fraction(k, 7), Fraction(1, 7)) for k in range(9)))
    assert "ka" not in said(sevenths, 7.3 * 60 * float(Fraction(1, 7)), Style(single_limit_hz=7.3))


@pytest.mark.parametrize(
    ("passage", "tempo"),
    [
        (row(8, "1/16"), 120.0),
        (row(6, "1/12"), 160.0),
        (row(12, "1/16", **COMPOUND), 80.0),
        (passage_of("1/4, 1/16, 1/16, 1/16, 1/16"), 120.0),
    ],
)
def test_where_single_ends(passage, tempo):
    assert single_up_to_bpm(passage, Style()) == pytest.approx(tempo)
    assert "ka" not in said(passage, tempo)
    assert "ka" in said(passage, tempo + 1)


def test_single_ends_nowhere_in_dotted_rhythm_before_its_long_notes_are_quick():
    dotted = passage_of("3/16, 1/16, 3/16, 1/16, 3/16, 1/16")
    assert single_up_to_bpm(dotted, Style()) is None
    assert said(dotted, 200) == "ta ta ta ta ta ta"


# -- mixed rhythms ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rhythm", "expected"),
    [
        ("1/8, 1/16, 1/16, 1/8, 1/16, 1/16, 1/4", "ta ta ka ta ta ka ta"),
        ("1/16, 1/16, 1/8, 1/16, 1/16, 1/8", "ta ka ta ta ka ta"),
        ("1/16, 1/8, 1/16, 1/4", "ta ka ta ta"),
        ("1/8, 1/24, 1/24, 1/24, 1/4", "ta ta ta ka ta"),
        ("1/24, 1/24, 1/24, 1/8, 1/4", "ta ta ka ta ta"),
        ("1/20, 1/20, 1/20, 1/20, 1/20, 1/4", "ta ka ta ka ta ta"),
        ("rest 1/16, 1/16, 1/16, 1/16, 1/4", "ta ka ta ta"),
        ("1/16, 1/16, rest 1/8, 1/16, 1/16, 1/16, 1/16", "ta ka ta ka ta ka"),
    ],
)
def test_mixed_rhythms(rhythm, expected):
    assert said(passage_of(rhythm)) == expected


def test_sixteenths_after_an_eighth_in_compound_meter_are_not_in_threes():
    rhythm = passage_of("1/8, 1/16, 1/16, 1/16, 1/16, 1/8, 1/16, 1/16, 1/8", **COMPOUND)
    assert said(rhythm, 100) == "ta ta ka ta ka ta ta ka ta"


def test_a_triplet_among_sixteenths_says_so():
    passage = passage_of("1/16, 1/16, 1/16, 1/16, 1/12, 1/12, 1/12, 1/16, 1/16, 1/16, 1/16")
    assert said(passage, 170) == "ta ka ta ka ta ta ka ta ka ta ka"
    assert why(passage, 4, 170) == "triple, ta ta ka: notes in threes"
    assert why(passage, 7, 170) == "double: no threes here"


def test_one_note_to_a_click_alternates_through_the_bar():
    fives = row(10, "1/16", bar_beats=Fraction(5, 4), pulse_beats=Fraction(1, 4))
    assert said(fives, 400, Style(single_limit_hz=6)) == "ta ka ta ka ta ta ka ta ka ta"


# -- beginning anew --------------------------------------------------------------------------------


def test_front_after_a_rest():
    passage = passage_of("1/16, rest 1/16, 1/16, 1/16, 1/16, 1/16, 1/16, rest 1/16, 1/16")
    assert said(passage) == "ta ta ka ta ka ta ta"
    passage = passage_of(
        "1/16, 1/16, 1/16, rest 1/16, 1/16, 1/16, 1/16, rest 1/16, rest 1/16, 1/16"
    )
    assert said(passage).split()[-1] == "ta"
    passage = passage_of("1/20, 1/20, 1/20, rest 1/20, 1/20, 1/20, 1/20")
    assert why(passage, 3) == "front again after the rest"


def test_a_short_note_is_no_rest():
    """Notes played in by MIDI end a little early."""
    for share in (Fraction(4, 5), Fraction(1, 2)):
        short = [replace(n, length_beats=n.length_beats * share) for n in row(8, "1/16").notes]
        assert said(Passage(tuple(short))) == "ta ka ta ka ta ka ta ka"


def test_front_after_a_long_note():
    passage = passage_of("1/8, 1/16, 1/16, 1/8, 1/16, 1/16")
    assert why(passage, 4) == "front again after the longer note"


def test_front_after_a_slur_and_alone_between_slurs():
    passage = passage_of("C4 1/16, D4 1/16 slur, E4 1/16, F4 1/16 slur, E4 1/16, D4 1/16, C4 1/4")
    assert said(passage) == "ta - ta - ta ka ta"
    passage = passage_of("C4 1/16, D4 1/16 slur, E4 1/16 slur, F4 1/16, G4 1/16, F4 1/16 slur")
    assert said(passage) == "ta - - ta ta -"
    assert [s.reason for s in tongue(passage, FAST)][1:3] == ["slurred: no tongue", ""]


def test_two_slurred_two_tongued():
    drill, _ = load_drill("scales-slurred-pairs")
    assert said(drill.variants[0], 150).startswith("ta - ta ka ta - ta ka ta - ta ka")


def test_a_slur_over_three_leaves_the_last_note_a_front():
    passage = passage_of("C4 1/16, D4 1/16, E4 1/16 slur, F4 1/16, C4 1/16, D4 1/16, E4 1/16 slur")
    assert said(passage) == "ta ka - ta ta ka -"


@pytest.mark.parametrize(
    ("low", "high", "leaps"),
    [("C4", "G4", False), ("C4", "Ab4", True), ("C4", "A4", True), ("C4", "C5", True)],
)
def test_front_after_a_leap_of_a_sixth_or_more(low, high, leaps):
    """A fifth has 7 semitones, a minor sixth 8, a major one 9 (any handbook of harmony)."""
    passage = passage_of(f"{low} 1/16, {high} 1/16, {high} 1/16, {high} 1/16, {high} 1/4")
    assert said(passage) == ("ta ta ka ta ta" if leaps else "ta ka ta ka ta")
    assert bool(why(passage, 1)) == leaps


def test_a_leap_names_its_interval():
    passage = passage_of("C4 1/16, A4 1/16, A4 1/16, A4 1/16")
    assert why(passage, 1) == "front after the leap (major sixth)"
    downwards = passage_of("C5 1/16, Bb3 1/16, A4 1/16, A4 1/16")
    assert why(downwards, 1) == "front after the leap (over an octave)"


def test_a_row_of_leaps_does_not_make_a_row_of_fronts():
    octaves = passage_of(", ".join(["C4 1/16", "C5 1/16"] * 4))
    assert said(octaves) == "ta ta ka ta ta ka ta ka"


def test_a_leap_in_a_group_of_three_changes_its_order():
    onto_third = passage_of("C4 1/12, C4 1/12, C5 1/12, C5 1/12, C5 1/12, C5 1/12")
    assert said(onto_third, 200) == "ta ka ta ta ta ka"
    onto_second = passage_of("C4 1/12, C5 1/12, C5 1/12, C5 1/12, C5 1/12, C5 1/12")
    assert said(onto_second, 200, Style(order="tkt")) == "ta ta ka ta ka ta"
    assert said(onto_second, 200) == "ta ta ka ta ta ka"


# -- asked for by the player -----------------------------------------------------------------------


def test_single_as_asked_tells_when_it_is_too_fast():
    single = Style(force="single")
    assert said(row(8, "1/16"), FAST, single) == "ta " * 7 + "ta"
    assert why(row(8, "1/16"), 0, FAST, single).endswith("10 notes a second, single goes to 8")
    assert why(row(8, "1/16"), 0, SLOW, single) == "single: as asked"


def test_double_as_asked_at_any_tempo():
    double = Style(force="double")
    assert said(row(4, "1/16"), SLOW, double) == "ta ka ta ka"
    assert said(row(6, "1/12"), SLOW, double) == "ta ka ta ka ta ka"
    assert said(row(4, "1/4"), SLOW, double) == "ta ka ta ka"
    gallop = passage_of("1/4, 1/8, 1/16, 1/16, 1/8, 1/16, 1/16, 1/4, 1/4")
    assert said(gallop, SLOW, double) == "ta ta ta ka ta ta ka ta ta"


def test_triple_as_asked():
    triple = Style(force="triple")
    assert said(row(3, "1/12"), SLOW, triple) == "ta ta ka"
    assert said(row(8, "1/16"), SLOW, triple) == "ta ta ka ta ta ta ka ta"


def test_the_back_on_the_beat():
    strengthen = Style(back_on_beat=True)
    assert said(row(8, "1/16"), SLOW, strengthen) == "ka ta ka ta ka ta ka ta"
    assert said(row(6, "1/12"), SLOW, strengthen) == "ka ta ta ka ta ta"
    assert said(row(6, "1/12"), SLOW, replace(strengthen, order="tkt")) == "ka ta ka ka ta ka"
    fives = said(row(10, "1/20"), SLOW, strengthen).split()
    assert fives[0] == fives[5] == "ka"


def test_the_back_alone():
    alone = Style(force="single", back_on_beat=True)
    assert said(row(4, "1/8"), SLOW, alone) == "ka ka ka ka"
    assert "strengthen" in why(row(4, "1/8"), 0, SLOW, alone)


def test_written_syllables_are_kept_and_the_pattern_goes_on_from_them():
    passage = passage_of("1/20, 1/20, 1/20 ka, 1/20, 1/20, 1/4")
    assert said(passage) == "ta ta ka ta ka ta"
    assert why(passage, 1) == "front: a back is written on the next note"
    passage = passage_of("1/16 ka, 1/16, 1/16, 1/16, 1/4")
    assert said(passage) == "ka ta ka ta ta"
    assert why(passage, 0) == "double: 10 notes a second, single goes to 8; kept as written"
    passage = passage_of("1/12, 1/12 ga, 1/12, 1/12")
    assert said(passage, 200) == "ta ga ta ta"
    assert why(passage, 2, 200) == "front: never two backs running"


def test_written_syllables_in_slow_notes_do_not_make_them_double():
    passage = passage_of("1/8 ta, 1/8 ka, 1/8 ta, 1/8")
    assert [s.reason for s in tongue(passage, SLOW)] == [
        "single: no run over 8 notes a second",
        "kept as written",
        "",
        "",
    ]


# -- the shipped drills, whose syllables were written by hand --------------------------------------


@pytest.mark.parametrize("name", ["ta-ka-groups", "ta-ta-ka-triplets", "written-out"])
def test_chosen_anew_the_shipped_drills_get_their_own_syllables(name):
    drill, _ = load_drill(name)
    for passage in drill.variants:
        style = Style(single_limit_hz=7.9)
        written = " ".join(note.syllable or "-" for note in passage.notes)
        assert said(without_syllables(passage), drill.to_bpm, style) == written


# -- properties ------------------------------------------------------------------------------------

LENGTHS = [Fraction(n, d) for n, d in ((1, 4), (1, 2), (1, 3), (1, 6), (3, 4), (1, 5), (1, 1))]


@st.composite
def passages(draw: st.DrawFn, pinned: bool = False) -> Passage:
    notes: list[Note] = []
    at = Fraction(0)
    for _ in range(draw(st.integers(1, 24))):
        length = draw(st.sampled_from(LENGTHS))
        if draw(st.integers(0, 5)) == 0:
            at += length
        joins = bool(notes) and notes[-1].end_beats == at
        slurred = joins and draw(st.integers(0, 3)) == 0
        names = [None] * 4 + ["ta", "ka", "ga"] if pinned and not slurred else [None]
        pitch = draw(st.integers(48, 77))
        notes.append(Note(pitch, at, length, slurred, draw(st.sampled_from(names))))
        at += length
    meter = draw(st.sampled_from([{}, COMPOUND, {"bar_beats": Fraction(7, 2)}]))
    return Passage(tuple(notes), **meter)


styles = st.builds(
    Style,
    order=st.sampled_from(ORDERS),
    single_limit_hz=st.floats(3, 12),
    force=st.sampled_from([None, *STYLES]),
)
tempi = st.floats(20, 300)


def rate(passage: Passage, k: int, tempo_bpm: float) -> float:
    """Notes a second from the note before."""
    apart = passage.notes[k].start_beats - passage.notes[k - 1].start_beats
    return tempo_bpm / 60 / float(apart / passage.pulse_beats)


@given(passages(pinned=True), tempi, styles, st.booleans())
@settings(max_examples=300)
def test_every_tongued_note_has_a_syllable_and_no_slurred_one(passage, tempo, style, strengthen):
    style = replace(style, back_on_beat=strengthen)
    spoken = tongue(passage, tempo, style)
    assert [s.index for s in spoken] == list(range(len(passage.notes)))
    for note, word in zip(passage.notes, spoken, strict=True):
        assert (word.syllable is None) == note.slurred
        assert word.syllable in (None, note.syllable or word.syllable)
    assert spoken == tongue(passage, tempo, style)
    assert with_syllables(passage, spoken) == with_syllables(
        passage, tongue(with_syllables(passage, spoken), tempo, style)
    )


@given(passages(), tempi, styles)
@settings(max_examples=300)
def test_never_two_backs_running(passage, tempo, style):
    strokes = [s.syllable for s in tongue(passage, tempo, style) if s.syllable]
    assert ("ka", "ka") not in list(pairwise(strokes))


@given(passages(pinned=True), tempi, styles)
@settings(max_examples=300)
def test_two_backs_running_only_where_both_are_written(passage, tempo, style):
    strokes = [
        (s.syllable, note.syllable)
        for note, s in zip(passage.notes, tongue(passage, tempo, style), strict=True)
        if s.syllable
    ]
    for (before, _), (after, written) in pairwise(strokes):
        if before[0] in "kg" and after[0] in "kg":
            assert written


@given(passages(), tempi, styles)
@settings(max_examples=300)
def test_front_at_the_start_after_rests_and_after_slurs(passage, tempo, style):
    notes, spoken = passage.notes, tongue(passage, tempo, style)
    assert spoken[0].syllable == "ta"
    assert spoken[0].reason
    for k in range(1, len(notes)):
        silence = notes[k].start_beats - notes[k - 1].end_beats
        apart = notes[k].start_beats - notes[k - 1].start_beats
        slow = rate(passage, k, tempo) < style.single_limit_hz
        rested = slow and silence > 0 and silence >= apart / 4
        if not notes[k].slurred and (rested or notes[k - 1].slurred):
            assert spoken[k].syllable == "ta"


@given(passages(), tempi, st.floats(3, 12))
@settings(max_examples=300)
def test_no_back_is_used_where_single_is_fast_enough(passage, tempo, limit):
    """A back needs a neighbour closer than the limit lets single go."""
    spoken = tongue(passage, tempo, Style(single_limit_hz=limit))
    for k, word in enumerate(spoken):
        if word.syllable == "ka":
            assert rate(passage, k, tempo) > limit


@given(
    st.lists(st.integers(48, 77), min_size=1, max_size=40),
    st.sampled_from(LENGTHS),
    st.sampled_from(ORDERS),
    st.integers(0, 3),
)
@settings(max_examples=300)
def test_leaps_and_beats_never_bring_many_fronts_together(pitches, length, order, late):
    """Two in ta ta ka; a leap, a beat of five notes or both add to them."""
    notes = [Note(pitch, (k + late) * length, length) for k, pitch in enumerate(pitches)]
    spoken = tongue(Passage(tuple(notes)), 300, Style(order=order, single_limit_hz=3))
    fronts = "".join("t" if word.syllable == "ta" else "k" for word in spoken).split("k")
    assert max(map(len, fronts)) <= 4


# -- refused ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "wrong", [{"order": "ktk"}, {"force": "quadruple"}, {"single_limit_hz": 0.0}]
)
def test_styles_that_cannot_be(wrong):
    with pytest.raises(ValueError, match=r"order|style|limit"):
        Style(**wrong)


@pytest.mark.parametrize("tempo", [0.0, -1.0, float("nan"), float("inf")])
def test_tempi_that_cannot_be(tempo):
    with pytest.raises(ValueError, match="tempo"):
        tongue(row(2, "1/8"), tempo)


def test_a_passage_without_notes():
    assert tongue(Passage(()), 100) == ()
    assert single_up_to_bpm(Passage(()), Style()) is None


def test_with_syllables_leaves_the_rest_alone():
    passage = row(2, "1/8")
    spoken = (Spoken(0, "ta"), Spoken(1, "ka"))
    made = with_syllables(passage, spoken)
    assert [n.syllable for n in made.notes] == ["ta", "ka"]
    assert without_syllables(made) == passage


def test_syllables_reach_the_live_screen():
    """The screen draws the dues of the plan."""
    passage = row(4, "1/16")
    exercise = Exercise(with_syllables(passage, tongue(passage, FAST)), FAST)
    assert [due.syllable for due in plan_take(exercise, 48_000, 0).dues] == ["ta", "ka"] * 2
