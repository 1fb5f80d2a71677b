"""The simulated player's slips: seeded, prescribed exactly where a script says so, and growing with
the tempo."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from random import Random
from statistics import fmean

import pytest

from coach.ports.player.skill import STEADY, Fault, Skill, learned, partial_step, perform
from tests.making import RATE, plan_of, scale

SEEDS = range(40)


def test_the_same_seed_plays_the_same():
    plan = plan_of(scale(notes=12), length_beats=Fraction(1, 4))
    assert perform(plan, Skill(), Random(3)) == perform(plan, Skill(), Random(3))
    assert perform(plan, Skill(), Random(3)) != perform(plan, Skill(), Random(4))


def test_a_steady_player_plays_what_is_due():
    plan = plan_of(scale(notes=12), length_beats=Fraction(1, 4))
    played = perform(plan, STEADY, Random(0))
    assert [(n.frame, n.pitch, n.due) for n in played] == [
        (d.frame, d.pitch, d.index) for d in plan.dues
    ]
    for note, after in pairwise(played):
        assert note.end_frame < after.frame, "the tongue leaves a gap"


def test_scripted_faults_happen_exactly():
    plan = plan_of(scale(notes=10))
    script = {
        1: Fault(split_semitones=-2.0, split_ms=40.0),
        3: Fault(missing=True),
        4: Fault(lag_ms=-12.0),
        5: Fault(late_ms=90.0),
        6: Fault(quiet_db=14.0),
        7: Fault(semitones=2.0),
        8: Fault(extra=True),
    }
    steady = {n.due: n for n in perform(plan, STEADY, Random(0))}
    played = perform(plan, STEADY, Random(0), script=script)
    by_due = {n.due: n for n in played}
    assert 3 not in by_due
    assert by_due[1].split_to == plan.dues[1].pitch - 2
    assert by_due[1].split_frames == 40 * RATE // 1000
    assert by_due[4].lag_frames == -12 * RATE // 1000
    assert by_due[5].frame == plan.dues[5].frame + 90 * RATE // 1000
    assert by_due[6].level_db == pytest.approx(steady[6].level_db - 14)
    assert by_due[7].pitch == plan.dues[7].pitch + 2
    extra = [n for n in played if n.due is None]
    assert [n.pitch for n in extra] == [plan.dues[8].pitch]
    assert plan.dues[8].frame < extra[0].frame < plan.dues[9].frame
    for untouched in (0, 2, 9):
        assert by_due[untouched].frame == plan.dues[untouched].frame


def test_a_script_overrules_the_dice():
    plan = plan_of(scale(notes=10))
    clumsy = replace(Skill(), miss_rate=1.0, ceiling_notes_s=1.0)
    played = perform(plan, clumsy, Random(0), script={k: Fault(late_ms=0.0) for k in (2, 6)})
    assert [n.due for n in played] == [2, 6]
    assert [n.frame for n in played] == [plan.dues[k].frame for k in (2, 6)]


def slips_a_note(tempo_bpm: float) -> float:
    """Share of notes missing, wrong, split, quiet or late by more than 25 ms, over all seeds."""
    plan = plan_of(scale(notes=8) * 2, length_beats=Fraction(1, 4), tempo_bpm=tempo_bpm)
    slips = []
    for seed in SEEDS:
        played = {n.due: n for n in perform(plan, Skill(), Random(seed))}
        for due in plan.dues:
            note = played.get(due.index)
            slips.append(
                note is None
                or note.pitch != due.pitch
                or note.split_to is not None
                or abs(note.frame - due.frame) > 0.025 * RATE
            )
    return fmean(slips)


def test_slips_grow_with_the_tempo():
    # Four notes a click: 60, 100, 120 and 150 clicks a minute are 4, 6.7, 8 and 10 notes a second.
    shares = [slips_a_note(bpm) for bpm in (60, 100, 120, 150)]
    assert shares == sorted(shares)
    assert shares[0] < 0.04
    assert shares[-1] > 0.2


def spread_frames(tempo_bpm: float) -> float:
    skill = replace(STEADY, ceiling_notes_s=8.0, jitter_ms=7.0)
    plan = plan_of(scale(notes=16), length_beats=Fraction(1, 4), tempo_bpm=tempo_bpm)
    off = [
        note.frame - due.frame
        for seed in SEEDS
        for note, due in zip(perform(plan, skill, Random(seed)), plan.dues, strict=True)
    ]
    return fmean(x * x for x in off) ** 0.5


def test_the_spread_is_the_jitter_at_the_ceiling_and_less_below():
    assert spread_frames(120) == pytest.approx(7.0 * RATE / 1000, rel=0.1)
    assert spread_frames(60) < 0.9 * spread_frames(120)


def test_learning_lowers_the_share_of_slips():
    plan = plan_of(scale(notes=8) * 2, length_beats=Fraction(1, 4), tempo_bpm=150)
    skilled = Skill()
    for _ in range(20):
        skilled = learned(skilled)

    def right(skill: Skill) -> int:
        return sum(
            n.due is not None and n.pitch == plan.dues[n.due].pitch and n.split_to is None
            for seed in SEEDS
            for n in perform(plan, skill, Random(seed))
        )

    assert skilled.ceiling_notes_s == pytest.approx(8.0 * 1.02**20)
    assert right(skilled) > right(Skill())


def test_the_weak_syllable_is_softer_and_later():
    skill = replace(STEADY, ceiling_notes_s=4.0, weak_syllable_db=3.0, weak_syllable_late_ms=6.0)
    plan = plan_of([60] * 8, length_beats=Fraction(1, 4))
    played = perform(plan, skill, Random(0))
    for strong, weak in zip(played[::2], played[1::2], strict=True):
        assert weak.level_db == pytest.approx(strong.level_db - 3)
        assert weak.frame - plan.dues[weak.due].frame == 6 * RATE // 1000
        assert strong.frame == plan.dues[strong.due].frame


@pytest.mark.parametrize(("partial", "cents"), [(4, 386.3), (8, 203.9), (16, 105.0)])
def test_neighbouring_partials_are_just_intervals(partial, cents):
    # The natural harmonic series: 5:4 is 386.3, 9:8 is 203.9 and 17:16 is 105.0 cents (handbook
    # values of just intonation).
    pitch = 28 + {4: 24, 8: 36, 16: 48}[partial]
    assert 100 * partial_step(pitch, +1) == pytest.approx(cents, abs=0.1)
    assert partial_step(pitch, -1) < 0


def test_wrong_notes_lie_a_valve_or_a_partial_away():
    skill = replace(STEADY, ceiling_notes_s=4.0, wrong_rate=1.0)
    plan = plan_of(scale(notes=8), length_beats=Fraction(1, 4))
    for seed in SEEDS:
        for note in perform(plan, skill, Random(seed)):
            off = note.pitch - plan.dues[note.due].pitch
            near = (-2.0, -1.0, 1.0, *(partial_step(plan.dues[note.due].pitch, s) for s in (-1, 1)))
            assert min(abs(off - step) for step in near) < 1e-9


def test_slurred_notes_are_joined():
    plan = plan_of(scale(notes=6))
    slurred = replace(plan, dues=tuple(replace(d, slurred=d.index > 0) for d in plan.dues))
    played = perform(slurred, STEADY, Random(0))
    for note, after in pairwise(played):
        assert note.end_frame == after.frame
        assert after.slurred
        assert after.lag_frames == 0
