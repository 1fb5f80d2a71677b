"""Generators: what they make of a small run, read over by hand, and what must hold of all of it."""

from __future__ import annotations

import itertools
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.passage import Note, Passage
from coach.core.pitch import name_of_midi
from coach.core.variants import STEPS, Step, vary
from coach.core.variants.chain import options_of
from tests.core.variants.making import passages

SIXTEENTH = Fraction(1, 4)


def run_of(pitches, **changes):
    notes = tuple(Note(p, k * SIXTEENTH, SIXTEENTH) for k, p in enumerate(pitches))
    return replace(Passage(notes, "run"), **changes)


RUN = run_of([67, 69, 71, 72, 74])
FINGERED = replace(
    RUN,
    notes=tuple(
        replace(n, fingering=f) for n, f in zip(RUN.notes, ("0", "12", "2", "0", "1"), strict=True)
    ),
)


def words(passage):
    """ "G4 1/4, A4~ 1/4 ka >": lengths in beats, ~ slurred, > accented."""
    said = []
    for note in passage.notes:
        slur, accent = "~" if note.slurred else "", " >" if note.accent else ""
        syllable = f" {note.syllable}" if note.syllable else ""
        said.append(f"{name_of_midi(note.pitch)}{slur} {note.length_beats}{syllable}{accent}")
    return ", ".join(said)


def made(name, passage=RUN, **options):
    return [(v.title, words(v)) for v in vary([passage], [Step(name, options)])]


def test_the_long_note_walks_through_pairs():
    assert made("rhythms", group=2) == [
        ("run: long, short", "G4 3/4, A4 1/4, B4 3/4, C5 1/4, D5 2"),
        ("run: short, long", "G4 1/4, A4 3/4, B4 1/4, C5 3/4, D5 2"),
    ]


def test_the_long_note_of_three_takes_the_time_of_two():
    assert made("rhythms", group=3)[1] == (
        "run: short, long, short",
        "G4 1/4, A4 1/2, B4 1/4, C5 1/4, D5 11/4",
    )


def test_rests_slurs_and_places_on_the_click_outlast_a_rhythm():
    """Three sixteenths, a rest, a quarter on the click, two sixteenths slurred into a quarter."""
    times = [(0, 1), (1, 1), (2, 1), (4, 4), (8, 1), (9, 1), (10, 4)]
    notes = tuple(
        Note(60 + k, at * SIXTEENTH, length * SIXTEENTH, slurred=k == 6)
        for k, (at, length) in enumerate(times)
    )
    made_of = vary([Passage(notes)], [Step("rhythms", {"group": 2})])
    laid = [[(n.start_beats, n.length_beats) for n in variant.notes] for variant in made_of]
    quarter, eighth, dotted = SIXTEENTH * 4, SIXTEENTH * 2, SIXTEENTH * 3
    assert laid[0] == [
        (0, dotted),
        (dotted, SIXTEENTH),
        (1, dotted),
        (2, quarter),
        (3, dotted),
        (Fraction(15, 4), dotted),
        (Fraction(9, 2), Fraction(7, 2)),
    ]
    assert [b.start_beats - a.end_beats for a, b in itertools.pairwise(notes)][2] > 0
    assert made_of[1].notes[6].slurred
    assert laid[1][5] == (Fraction(13, 4), dotted + eighth)


def test_bursts_stop_on_the_click_and_go_on_from_the_same_note():
    assert made("bursts", sizes=(3,)) == [
        ("run: bursts of 3", "G4 1/4, A4 1/4, B4 1/2, B4 1/4, C5 1/4, D5 3/2")
    ]
    starts = [n.start_beats for n in vary([RUN], [Step("bursts", {"sizes": (3,)})])[0].notes]
    assert starts[3] == 2


def test_notes_are_added_at_either_end():
    assert [t for t, _ in made("add-a-note", end="front", first=3)] == [
        "run: the last 3",
        "run: the last 4",
        "run: the last 5",
    ]
    assert made("add-a-note", first=2)[0] == ("run: the first 2", "G4 1/4, A4 15/4")


def test_windows_overlap_and_reach_the_end():
    assert made("windows", size=3, step=1) == [
        ("run: from bar 1, note 1", "G4 1/4, A4 1/4, B4 7/2"),
        ("run: from bar 1, note 2", "A4 1/4, B4 1/4, C5 13/4"),
        ("run: from bar 1, note 3", "B4 1/4, C5 1/4, D5 3"),
    ]


def test_only_what_lifts_one_valve_and_presses_another_is_an_exchange():
    """0 to 12 presses only, 12 to 2 and 1 to 0 lift only; of this run 2 to 1 is one."""
    swapped = replace(
        FINGERED,
        notes=(*FINGERED.notes[:3], replace(FINGERED.notes[3], fingering="1"), FINGERED.notes[4]),
    )
    titles = [t for t, _ in made("exchanges", swapped)]
    assert titles == ["run: B4 and C5, slurred", "run: B4 and C5, tongued"]


def test_an_exchange_goes_to_and_fro_slurred_then_tongued():
    (_, slurred), (_, tongued) = made("exchanges", most=1)
    assert slurred.startswith("G4 1/4, A4~ 1/4, G4~ 1/4")
    assert tongued == slurred.replace("~", "")


def test_an_exchange_keeps_the_fingers_of_its_own_place():
    """D has 1 before and T1 here: only T1 to T2 lifts one valve and presses another."""
    fingered = zip((60, 62, 64, 62, 64), ("0", "1", "0", "T1", "T2"), strict=True)
    notes = tuple(
        Note(p, k * SIXTEENTH, SIXTEENTH, fingering=f) for k, (p, f) in enumerate(fingered)
    )
    slurred, _ = vary([Passage(notes)], [Step("exchanges")])
    assert [n.fingering for n in slurred.notes[:3]] == ["T1", "T2", "T1"]


def test_the_most_frequent_exchange_comes_first():
    titles = [t for t, _ in made("exchanges", run_of([60, 62, 64, 62, 64, 65]), most=2)]
    assert [t.split(",")[0] for t in titles] == ["run: D4 and E4"] * 2 + ["run: C4 and D4"] * 2


def test_accents_start_on_each_note_in_turn():
    assert [w.count(">") for _, w in made("accents", every=2)] == [3, 2]
    assert made("accents", every=2)[1][1].startswith("G4 1/4, A4 1/4 >")


def test_the_back_syllable_becomes_strong_step_by_step():
    """Alone; on the beat, dotted; the front returning in threes; the pattern: four rungs on one
    note, four on a scale, four on the passage."""
    titles, rungs = zip(*made("tonguing"), strict=True)
    assert [t.split(":")[0] for t in titles] == ["One note"] * 4 + ["Scale"] * 4 + ["Passage"] * 4
    alone, dotted, returning, full = rungs[8:]
    assert alone == "G4 1/4 ka, A4 1/4 ka, B4 1/4 ka, C5 1/4 ka, D5 3 ka"
    assert dotted == "G4 3/8 ka, A4 1/8 ta, B4 3/8 ka, C5 1/8 ta, D5 3 ta"
    assert returning == "G4 1/4 ka, A4 1/4 ta, B4 1/4 ka, C5 1/4 ka, D5 11/4 ta"
    assert full == "G4 1/4 ta, A4 1/4 ka, B4 1/4 ta, C5 1/4 ka, D5 3 ta"


def test_the_front_pair_of_triple_is_a_flick_into_the_back():
    rungs = dict(made("tonguing", pattern="ttk"))
    flick = rungs["Passage: the back on the beat, the front pair a flick"]
    assert flick == "G4 2/3 ka, A4 1/6 ta, B4 1/6 ta, C5 2/3 ka, D5 7/3 ta"
    assert rungs["Passage: triple"].startswith("G4 1/3 ta, A4 1/3 ta, B4 1/3 ka, C5 1/3 ta")


def test_every_step_of_the_scale_begins_the_figure_anew():
    """The scale of the key up and down, from the lowest key note, each note a figure long."""
    in_f = run_of([65, 67, 69, 70, 72, 74, 76, 77], fifths=-1)
    rungs = dict(made("tonguing", in_f, pattern="tkt"))
    names = [w.split()[0] for w in rungs["Scale: the back on the beat"].split(", ")]
    # F major: one flat (any theory book).
    up = ["F4", "G4", "A4", "A#4", "C5", "D5", "E5"]
    steps = [*up, "F5", *up[:0:-1]]
    assert names == [name for name in steps for _ in range(3)] + ["F4"]


def test_a_narrow_passage_gets_the_scale_notes_that_it_has():
    scale = dict(made("tonguing", run_of([62, 63, 64, 65])))["Scale: double"]
    assert [w.split()[0] for w in scale.split(", ")][::2] == ["D4", "E4", "F4", "E4", "D4"]


@given(passages(), st.sampled_from(("ttk", "tkt", "tktktk")))
def test_triple_figures_begin_on_the_click_or_its_half(passage, pattern):
    """On one note and on the scale: the end too, and every back that is said to be on the beat."""
    for variant in vary([passage], [Step("tonguing", {"pattern": pattern})])[:8]:
        *before, last = variant.notes
        half = variant.pulse_beats / 2
        assert last.start_beats % half == 0
        if "back on the beat" in variant.title:
            assert all(n.start_beats % half == 0 for n in before if n.syllable == "ka")


@given(passages())
def test_double_figures_are_whole_and_stay_on_the_click(passage):
    """On one note and on the scale: pairs fill the click, whatever the passage's own notes are; of
    three even notes the first comes on the click or on a half of it."""
    for variant in vary([passage], [Step("tonguing", {})])[:8]:
        *before, last = variant.notes
        pulse = variant.pulse_beats
        if "dotted" in variant.title:
            pair = before[2].start_beats
            assert pulse % pair == 0 or pair % pulse == 0
            assert last.start_beats % pair == 0
        elif "three even notes" in variant.title:
            firsts = [n.start_beats for n in variant.notes[::3]]
            slot = firsts[1]
            assert pulse % slot == 0 or slot % pulse == 0
            assert firsts == [k * slot for k in range(len(firsts))]


def test_air_comes_before_the_horn_and_slow_before_fast():
    assert [v.way for v in vary([RUN], [Step("air-first")])] == ["air", "played"]
    whole, *pieces = vary([RUN], [Step("slow-and-fragments", {"share": 0.5, "size": 3})])
    assert (whole.tempo_share, whole.notes) == (0.5, RUN.notes)
    assert {p.tempo_share for p in pieces} == {1.0}


def test_neighbouring_keys_stay_in_the_range():
    moves = {"moves": (1, -1, 5)}
    made_of = vary([FINGERED], [Step("keys", moves)], lowest=66, highest=75)
    assert [v.notes[0].pitch for v in made_of] == [67, 68, 66]
    assert [v.notes[0].fingering for v in made_of] == ["0", None, None]


def test_steps_are_applied_one_after_the_other():
    steps = [Step("windows", {"size": 3, "step": 2}), Step("slur-then-tongue")]
    titles = [v.title for v in vary([RUN], steps)]
    assert titles == [
        "run: from bar 1, note 1: all slurred",
        "run: from bar 1, note 1: all tongued",
        "run: from bar 1, note 3: all slurred",
        "run: from bar 1, note 3: all tongued",
    ]


@pytest.mark.parametrize(
    ("step", "says"),
    [
        (Step("loops"), "there is no loops"),
        (Step("bursts", {"size": 3}), "has no option size; it has sizes"),
        (Step("air-first", {"size": 3}), "it has none"),
        (Step("rhythms", {"group": 5}), "2, 3 or 4"),
        (Step("windows", {"size": 3, "step": 4}), "within it"),
        (Step("tonguing", {"pattern": "kkt"}), "one of double"),
        (Step("add-a-note", {"end": "middle"}), '"front" or the "back"'),
        (Step("accents", {"every": 1}), "every 2 to 8"),
        (Step("slow-and-fragments", {"share": 1.5}), "between 0 and 1"),
        (Step("bursts", {"sizes": (1,)}), "at least 2"),
        (Step("bursts", {"sizes": "ab"}), r"sizes is 'ab'; it must be like \[2, 3, 4\]"),
        (Step("bursts", {"sizes": (2, True)}), "must be like"),
        (Step("slow-and-fragments", {"share": "half"}), "must be like 0.6"),
        (Step("tonguing", {"pattern": 2}), "must be like 'double'"),
        (Step("bursts", {"sizes": (9,)}), "nothing to make an exercise of"),
    ],
)
def test_what_cannot_be_made_is_said(step, says):
    with pytest.raises(ValueError, match=says):
        vary([RUN], [step])


def test_too_many_pieces_are_refused_before_they_are_made():
    long = run_of([60, 62] * 500)
    for step in (Step("add-a-note"), Step("windows", {"size": 8, "step": 1})):
        with pytest.raises(ValueError, match="over 200: take more notes at a time"):
            vary([long], [step])
    assert len(vary([long], [Step("add-a-note", {"by": 100})])) == 11


def test_a_turn_with_air_gets_no_turn_before_it():
    ways = [v.way for v in vary([RUN], [Step("mouthpiece-first"), Step("air-first")])]
    assert ways == ["mouthpiece", "air", "played"]


lines = st.lists(st.integers(50, 80), min_size=4, max_size=20)


@given(passages(), st.sampled_from(sorted(STEPS)))
def test_whatever_is_made_is_playable(passage, name):
    """In the compass, in whole bars, one note at a time, no slur from nowhere; nothing invented."""
    pitches = {n.pitch for n in passage.notes}
    for variant in vary([passage], [Step(name)], lowest=48, highest=82):
        notes = variant.notes
        assert variant.title
        assert variant.length_beats % variant.bar_beats == 0
        assert all(48 <= n.pitch <= 82 for n in notes)
        assert notes[0].start_beats >= 0
        assert not notes[0].slurred
        for a, b in itertools.pairwise(notes):
            assert a.end_beats <= b.start_beats
            assert not b.slurred or (a.end_beats == b.start_beats and a.pitch != b.pitch)
        if name == "tonguing":
            assert min(pitches) <= min(n.pitch for n in notes)
            assert max(n.pitch for n in notes) <= max(pitches)
        elif name != "keys":
            assert {n.pitch for n in notes} <= pitches


@given(passages(), st.integers(2, 4))
def test_rhythms_keep_every_note_its_slur_and_its_syllable(passage, group):
    """And what is not part of an even run keeps its length, or waits for the next one's click."""
    written = [(n.pitch, n.slurred, n.syllable, n.accent) for n in passage.notes]
    for variant in vary([passage], [Step("rhythms", {"group": group})]):
        kept = [(n.pitch, n.slurred, n.syllable, n.accent) for n in variant.notes]
        assert kept == written
        starts = zip(passage.notes, variant.notes, strict=True)
        apart = [old.end_beats for old in passage.notes]
        for k, (old, new) in enumerate(starts):
            assert new.length_beats >= old.length_beats
            if k and old.start_beats > apart[k - 1]:
                assert (new.start_beats - old.start_beats) % passage.pulse_beats == 0
                rest = new.start_beats - variant.notes[k - 1].end_beats
                assert rest >= old.start_beats - apart[k - 1]


@given(lines, st.integers(2, 8), st.integers(1, 8))
def test_windows_leave_no_note_out(pitches, size, step):
    passage = run_of(range(len(pitches)))
    pieces = vary([passage], [Step("windows", {"size": size, "step": min(size, step)})])
    assert {n.pitch for piece in pieces for n in piece.notes} == set(range(len(pitches)))


@given(lines, st.sampled_from(("double", "ttk", "tkt", "tktktk")))
def test_the_pattern_is_spoken_in_its_order(pitches, pattern):
    """The last note is the front one; before it the letters go round."""
    letters = {"double": "tk"}.get(pattern, pattern)
    full = vary([run_of(pitches)], [Step("tonguing", {"pattern": pattern})])[11]
    spoken = [n.syllable[0] for n in full.notes][:-1]
    assert spoken == [letters[k % len(letters)] for k in range(len(spoken))]
    assert [n.pitch for n in full.notes] == pitches


def test_every_generator_has_options_with_defaults():
    for name in STEPS:
        assert "lowest" not in options_of(name)
        vary([RUN], [Step(name, options_of(name))])
