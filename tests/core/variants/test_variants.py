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
from coach.core.variants.fingers import is_exchange

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
    """2 to 0 and 0 to 12 lift or press only; 1 to 2 is one, and so is 12 to 3."""
    assert is_exchange("1", "2")
    assert is_exchange("T12", "3")
    assert not is_exchange("2", "0")
    assert not is_exchange("T0", "12")
    assert not is_exchange("1", "12")
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
    ],
)
def test_what_cannot_be_made_is_said(step, says):
    with pytest.raises(ValueError, match=says):
        vary([RUN], [step])


lines = st.lists(st.integers(50, 80), min_size=4, max_size=20)


@given(lines, st.sampled_from(sorted(STEPS)), st.booleans())
def test_whatever_is_made_is_playable(pitches, name, last_long):
    """In the compass, in whole bars, one note at a time, no slur from nowhere; nothing invented."""
    passage = run_of(pitches)
    if last_long:
        *before, last = passage.notes
        passage = replace(passage, notes=(*before, replace(last, length_beats=Fraction(2))))
    for variant in vary([passage], [Step(name)], lowest=48, highest=82):
        notes = variant.notes
        assert variant.length_beats % variant.bar_beats == 0
        assert all(48 <= n.pitch <= 82 for n in notes)
        assert notes[0].start_beats >= 0
        assert not notes[0].slurred
        for a, b in itertools.pairwise(notes):
            assert a.end_beats <= b.start_beats
            assert not b.slurred or (a.end_beats == b.start_beats and a.pitch != b.pitch)
        if name not in ("keys", "tonguing"):
            assert {n.pitch for n in notes} <= set(pitches)


@given(lines, st.integers(2, 4))
def test_rhythms_keep_every_note_in_order(pitches, group):
    for variant in vary([run_of(pitches)], [Step("rhythms", {"group": group})]):
        assert [n.pitch for n in variant.notes] == pitches


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
