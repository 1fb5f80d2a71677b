"""The warm-up of the day, on every instrument that comes with the coach."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from coach.core.course import Course, CoursePart, blowing_s, length_s, resting_s
from coach.core.exercise import Drill
from coach.core.fingering.candidates import candidates
from coach.core.instrument import Instrument
from coach.core.passage import Passage, in_a_row
from coach.core.pitch import midi_of_name
from coach.core.warmup import KINDS, WarmupLimits, WeakSpot, comfortable_of, plan_warmup
from coach.core.warmup.reach import playable
from coach.files.configs import instrument_names, load_instrument
from coach.files.warmup import load_warmup

LIMITS = load_warmup()
load = lru_cache(load_instrument)
instruments = st.sampled_from(instrument_names())
days = st.integers(-400, 40_000)
minutes = st.integers(5, 60)
calm = settings(max_examples=40)


def weak_spot(instrument: Instrument, name: str = "hard-run", notes: int = 16) -> WeakSpot:
    low = round(sum(comfortable_of(instrument)) / 2)
    row = in_a_row([low + k % 5 for k in range(notes)], Fraction(1, 4))
    return WeakSpot(Drill(name, "A hard run", "", (Passage(row),), 72, 120, instrument.name))


def planned(name: str, length: float, day: int, **more) -> Course:
    instrument = load(name)
    given_ = {"comfortable": comfortable_of(instrument), "limits": LIMITS, **more}
    return plan_warmup(instrument, minutes=length, day_seed=day, **given_)


def kind(part: CoursePart) -> str:
    name = part.drill.name
    return name.removeprefix("warmup-") if name.startswith("warmup-") else "weak"


def notes_of(part: CoursePart):
    return [note for passage in part.drill.variants for note in passage.notes]


@st.composite
def players(draw):
    """An instrument and somebody's comfortable range on it, with three notes to play at least."""
    instrument = load(draw(instruments))
    low = draw(st.integers(instrument.lowest, instrument.highest - 7))
    high = draw(st.integers(low + 7, instrument.highest))
    return instrument, (low, high)


@calm
@given(player=players(), length=minutes, day=days)
def test_notes_stay_in_the_comfortable_range(player, length, day):
    """Outside it only in the range part, by so many semitones, and never off the instrument."""
    instrument, (low, high) = player
    # A natural horn or a trombone has few notes at the bottom.
    assume(sum(playable(instrument, pitch) for pitch in range(low, high + 1)) >= 3)
    course = plan_warmup(
        instrument, minutes=length, day_seed=day, comfortable=(low, high), limits=LIMITS
    )
    beyond = LIMITS.outside_semitones
    for part in course.parts:
        more = beyond if kind(part) == "range" else 0
        for note in notes_of(part):
            assert instrument.reaches(note.pitch)
            assert low - more <= note.pitch <= high + more
            found = candidates(instrument, note.pitch)
            assert any(not candidate.extra for candidate in found)
            if note.fingering:
                assert note.fingering in [candidate.fingering for candidate in found]


@calm
@given(name=instruments, length=minutes, day=days, weak=st.integers(0, 3))
def test_it_keeps_to_the_time_and_rests_as_long_as_it_plays(name, length, day, weak):
    spots = [weak_spot(load(name), f"spot-{k}") for k in range(weak)]
    course = planned(name, length, day, weak=spots)
    assert 0.9 * 60 * length <= course.length_s <= 60 * length
    for part in course.parts:
        assert resting_s(part) >= blowing_s(part)
        assert length_s(part) < 60 * LIMITS.part_minutes + 30
        assert part.takes
        assert part.rest_s > 0
        assert part.why.endswith(".")
        assert part.why.count(". ") == 0
    blown = sum(blowing_s(part) for part in course.parts)
    assert blown <= LIMITS.blowing_share * course.length_s


@calm
@given(name=instruments, length=minutes, day=days)
def test_above_and_loud_are_limited(name, length, day):
    high = comfortable_of(load(name))[1]
    course = planned(name, length, day)
    above = sum(blowing_s(part, lambda note: note.pitch > high) for part in course.parts)
    loud = sum(blowing_s(part) for part in course.parts if kind(part) == "swells")
    assert above <= LIMITS.above_minutes * length
    assert loud <= LIMITS.loud_minutes * length


def test_with_nothing_allowed_above_nothing_is_above():
    limits = replace(LIMITS, above_minutes=0.0, loud_minutes=0.0)
    course = planned("double-horn", 60, 3, limits=limits)
    high = comfortable_of(load("double-horn"))[1]
    assert all(note.pitch <= high for part in course.parts for note in notes_of(part))
    assert "swells" not in map(kind, course.parts)
    assert course.length_s == pytest.approx(3600, abs=60)


@calm
@given(name=instruments, length=minutes, day=days)
def test_the_order_is_that_of_the_trade(name, length, day):
    """Common practice, no source: long soft notes, slurs, scales, tonguing; range last."""
    course = planned(name, length, day, weak=[weak_spot(load(name))])
    places = [KINDS.index(kind(part)) for part in course.parts]
    assert places == sorted(places)
    assert kind(course.parts[0]) == "long-tones"
    assert "doctor" in course.parts[0].caution
    assert all(part.caution for part in course.parts if kind(part) == "swells")
    cautions = " ".join(part.caution for part in course.parts)
    assert "dB" not in cautions


@calm
@given(name=instruments, length=minutes, day=days)
def test_the_same_day_is_the_same_and_the_next_another(name, length, day):
    course = planned(name, length, day)
    assert course == planned(name, length, day)
    assert course != planned(name, length, day + 1)


def test_keys_go_round_the_circle():
    """Twelve days, twelve keys of the tonguing: each a fourth on from the last."""
    tonics = []
    for day in range(12):
        (part, *_) = [p for p in planned("trumpet", 10, day).parts if kind(p) == "tonguing"]
        tonics.append(part.drill.variants[0].notes[0].pitch % 12)
    assert len(set(tonics)) == 12
    assert {(b - a) % 12 for a, b in itertools.pairwise(tonics)} == {5}


def test_short_warmups_have_few_kinds_and_long_ones_all():
    kinds = {n: set(map(kind, planned("double-horn", n, 5).parts)) for n in (5, 10, 30, 60)}
    assert kinds[5] == {"long-tones", "slurs", "scales"}
    assert kinds[5] < kinds[10] < kinds[30] <= kinds[60]
    assert kinds[60] == set(KINDS) - {"weak"}


@calm
@given(name=instruments, length=minutes, day=days, count=st.integers(1, 4))
def test_weak_spots_get_their_share(name, length, day, count):
    """About a fifth to a third of the time, by weight; a take more or less in short warm-ups."""
    spots = [weak_spot(load(name), f"spot-{k}") for k in range(count)]
    course = planned(name, length, day, weak=spots)
    weak_s = sum(length_s(part) for part in course.parts if kind(part) == "weak")
    assert 0.15 <= weak_s / (60 * length) <= 0.36
    if length >= 20:
        names = {part.drill.name for part in course.parts if kind(part) == "weak"}
        assert names == {spot.drill.name for spot in spots}


def test_heavier_spots_get_more():
    horn = load("double-horn")
    light, heavy = weak_spot(horn, "light"), replace(weak_spot(horn, "heavy"), weight=3.0)
    parts = planned("double-horn", 40, 1, weak=[light, heavy]).parts
    spent = {
        name: sum(length_s(part) for part in parts if part.drill.name == name)
        for name in ("light", "heavy")
    }
    assert spent["heavy"] / spent["light"] == pytest.approx(3, rel=0.35)
    spots = [part.drill for part in parts if kind(part) == "weak"]
    # Slowly, at the tempo that the drill begins with.
    assert {(drill.from_bpm, drill.to_bpm) for drill in spots} == {(72, 72)}


def test_lip_slurs_stay_on_one_fingering():
    parts = planned("double-horn", 60, 2).parts
    slurs = [part for part in parts if kind(part) == "slurs"]
    assert {part.drill.title for part in slurs} == {
        "Lip slurs on the F side",
        "Lip slurs on the Bb side",
    }
    for passage in (passage for part in slurs for passage in part.drill.variants):
        assert len({note.fingering for note in passage.notes}) == 1
        assert all(note.slurred for note in passage.notes[1:])
        assert all(a.pitch != b.pitch for a, b in itertools.pairwise(passage.notes))


def test_without_tubes_there_are_slurred_lines_instead():
    plain = replace(load("trumpet"), tubes=())
    course = plan_warmup(
        plain, minutes=10, day_seed=1, comfortable=comfortable_of(plain), limits=LIMITS
    )
    (part, *_) = [part for part in course.parts if kind(part) == "slurs"]
    assert part.drill.title.startswith("Slurs, ")
    assert not any(note.fingering for note in notes_of(part))


def test_the_default_range_of_the_trumpet():
    """The rule leaves out a fifth of 30 semitones at either end: written C4 to F#5, where
    players of some years are at ease (common practice, no source)."""
    trumpet = load("trumpet")
    written = [pitch - trumpet.transposition for pitch in comfortable_of(trumpet)]
    assert written == [midi_of_name("C4"), midi_of_name("F#5")]


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"minutes": 4.9}, "5 to 60 minutes"),
        ({"minutes": math.nan}, "5 to 60 minutes"),
        ({"minutes": 61}, "5 to 60 minutes"),
        ({"comfortable": (60, 66)}, "a fifth or wider"),
        ({"comfortable": (70, 60)}, "a fifth or wider"),
        ({"comfortable": (20, 60)}, "reaches from C2 to F6, written"),
        ({"weak": [WeakSpot(Drill("x", "Too high", "", (Passage(in_a_row([99], Fraction(1))),)))]},
         '"Too high" does not lie on the double horn'),
        ({"weak": [WeakSpot(Drill("x", "Empty", "", ()))]}, '"Empty" does not lie'),
        ({"limits": replace(LIMITS, blowing_share=0.01)}, "not even one take"),
    ],
)  # fmt: skip
def test_what_cannot_be_planned_is_said(change, sentence):
    horn = load("double-horn")
    usual = {"minutes": 20, "comfortable": comfortable_of(horn), "limits": LIMITS}
    with pytest.raises(ValueError, match=sentence):
        plan_warmup(horn, day_seed=1, **{**usual, **change})


@pytest.mark.parametrize("weight", [0, -1, math.inf, math.nan])
def test_weights_are_above_nought(weight):
    with pytest.raises(ValueError, match="above 0"):
        replace(weak_spot(load("trumpet")), weight=weight)


def test_limits_keep_both_rest_and_share():
    limits = WarmupLimits((), 1.0, 0.4, 1, 1, 2, 3)
    assert limits.resting == pytest.approx(1.5)
    assert replace(limits, blowing_share=0.9).resting == 1.0
