"""The judge: the table of verdicts, and that it is one fold."""

from __future__ import annotations

import itertools
from dataclasses import replace

import mir_eval
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.judge import Judge, judge_take
from coach.core.rules import Rules
from coach.core.take import Attack, Evidence, Gap, Take
from coach.core.timeline import Plan
from tests.making import RATE, attacks_of, plan_of, scale

MS = RATE // 1000
EASY = Rules("easy", tolerance_ms=50, tolerance_share=0.25, window_ms=120)


def judged(
    plan: Plan, attacks: list[Attack], rules: Rules | None = None, gaps: tuple[Gap, ...] = ()
):
    judge = Judge(plan.dues, rules or Rules(), plan.rate)
    judge.step(Evidence(tuple(attacks), gaps, up_to_frame=plan.end_frame + RATE))
    judge.finish()
    return judge.report()


def kinds(report) -> list[str]:
    return [v.kind for v in report.verdicts]


def test_a_perfect_take_is_clean():
    plan = plan_of(scale())
    report = judged(plan, attacks_of(plan))
    assert kinds(report) == ["clean"] * 8
    assert report.accuracy == 1.0
    assert report.passed
    assert report.extra == ()


def test_each_verdict_of_the_table():
    plan = plan_of(scale())
    attacks = attacks_of(plan, {2: 30 * MS, 3: -30 * MS})
    attacks[4] = replace(attacks[4], pitch=attacks[4].pitch + 2)
    attacks[5] = replace(attacks[5], settle_frames=20 * MS)
    attacks[6] = replace(attacks[6], level_db=-31.0)
    del attacks[1]
    report = judged(plan, attacks)
    assert kinds(report) == [
        "clean", "missed", "late", "early", "wrong", "split", "muffled", "clean",
    ]  # fmt: skip
    assert report.accuracy == pytest.approx(2 / 8)
    assert report.verdicts[1].attack is None
    assert report.verdicts[4].midi == plan.dues[4].pitch + 2


def test_tolerance_is_a_share_of_a_short_interval():
    """20 % of 100 ms is 20 ms: 22 ms late is late there, and clean where notes are slow."""
    fast = plan_of(scale(), tempo_bpm=300)
    slow = plan_of(scale(), tempo_bpm=100)
    assert kinds(judged(fast, attacks_of(fast, {4: 22 * MS})))[4] == "late"
    assert kinds(judged(slow, attacks_of(slow, {4: 22 * MS})))[4] == "clean"


def test_the_edge_of_the_tolerance_is_inside():
    plan = plan_of(scale())
    assert kinds(judged(plan, attacks_of(plan, {4: 25 * MS})))[4] == "clean"
    assert kinds(judged(plan, attacks_of(plan, {4: 25 * MS + 1})))[4] == "late"


def test_a_player_who_is_late_throughout_is_not_late():
    plan = plan_of(scale())
    report = judged(plan, attacks_of(plan, dict.fromkeys(range(8), 40 * MS)))
    assert kinds(report) == ["clean"] * 8
    assert report.offset_ms == pytest.approx(40)


def test_offset_beyond_the_limit_stays_in_the_deviation():
    """As far as 60 ms are forgiven; 100 ms late leaves 40 ms."""
    plan = plan_of(scale(), tempo_bpm=60)
    report = judged(plan, attacks_of(plan, dict.fromkeys(range(8), 100 * MS)), EASY)
    deviation = {round(v.deviation_frames / MS) for v in report.verdicts}
    assert deviation == {40}


def test_tuning_is_the_players_own():
    plan = plan_of(scale())
    sharp = [replace(a, pitch=a.pitch + 0.45) for a in attacks_of(plan)]
    report = judged(plan, sharp)
    assert kinds(report) == ["clean"] * 8
    assert report.tuning_cents == pytest.approx(45)
    assert report.verdicts[0].cents == pytest.approx(0, abs=1e-6)


def test_extra_attacks_are_told_apart():
    plan = plan_of(scale())
    extra = Attack(plan.dues[3].frame + 110 * MS, 70.0, -20.0)
    report = judged(plan, sorted([*attacks_of(plan), extra], key=lambda a: a.frame))
    assert kinds(report) == ["clean"] * 8
    assert report.extra == (extra,)


def test_a_wrong_note_then_the_right_one_is_a_split():
    """As a MIDI valve instrument reports a late finger."""
    plan = plan_of(scale())
    attacks = attacks_of(plan, {4: 22 * MS})
    wrong = replace(attacks[4], frame=attacks[4].frame - 21 * MS, pitch=attacks[4].pitch + 1)
    report = judged(plan, [*attacks[:4], wrong, *attacks[4:]])
    assert kinds(report)[4] == "split"
    assert report.extra == ()


def test_notes_in_a_gap_are_unsure_and_not_counted():
    plan = plan_of(scale())
    attacks = attacks_of(plan)
    gap = Gap(plan.dues[2].frame - 10 * MS, 300 * MS)
    heard = [a for a in attacks if not gap.frame <= a.frame <= gap.end_frame]
    report = judged(plan, heard, gaps=(gap,))
    assert kinds(report)[2:4] == ["unsure", "unsure"]
    assert report.accuracy == 1.0


def test_muffled_allows_for_register():
    """A note an octave lower may be 5 dB softer before 10 dB count."""
    pitches = [60, 60, 60, 48, 60, 60, 60, 60]
    plan = plan_of(pitches)
    soft = attacks_of(plan)
    soft[3] = replace(soft[3], level_db=-33.0)
    assert kinds(judged(plan, soft))[3] == "clean"
    soft[3] = replace(soft[3], level_db=-36.0)
    assert kinds(judged(plan, soft))[3] == "muffled"


def test_syllables_are_summed_up():
    plan = plan_of([60] * 8)
    dues = tuple(replace(d, syllable="ta" if d.index % 2 == 0 else "ka") for d in plan.dues)
    late_ka = dict.fromkeys((1, 3, 5, 7), 10 * MS)
    attacks = [
        replace(a, level_db=-20.0 - 4 * (k % 2)) for k, a in enumerate(attacks_of(plan, late_ka))
    ]
    judge = Judge(dues, Rules(), RATE)
    judge.step(Evidence(tuple(attacks), up_to_frame=plan.end_frame + RATE))
    syllables = judge.report().syllables
    assert syllables["ta"].count == syllables["ka"].count == 4
    assert syllables["ta"].level_db - syllables["ka"].level_db == pytest.approx(4)
    assert syllables["ta"].interval_ratio > 1 > syllables["ka"].interval_ratio


lateness = st.lists(st.integers(-45 * MS, 45 * MS), min_size=8, max_size=8)
heard = st.lists(st.booleans(), min_size=8, max_size=8)


def fold(plan: Plan, attacks: list[Attack], gaps: tuple[Gap, ...], cuts: list[int]):
    """Feed the judge in blocks that end at `cuts`, as a live session does."""
    judge = Judge(plan.dues, Rules(), plan.rate)
    live = []
    edges = [-(10**9), *sorted(cuts), plan.end_frame + RATE]
    for low, high in itertools.pairwise(edges):
        part = tuple(a for a in attacks if low < a.frame <= high)
        lost = tuple(g for g in gaps if low < g.frame <= high)
        live += judge.step(Evidence(part, lost, up_to_frame=high))
    live += judge.finish()
    return [v.kind for v in live], judge.report()


@given(lateness, heard, st.lists(st.integers(0, 6 * RATE), max_size=40), st.booleans())
def test_any_block_size_gives_the_same_verdicts(late, played, cuts, with_gap):
    plan = plan_of(scale())
    attacks = [a for a in attacks_of(plan, dict(enumerate(late))) if played[a.frame % 8]]
    gaps = (Gap(plan.dues[3].frame, 5 * MS),) if with_gap else ()
    at_once, report_at_once = fold(plan, attacks, gaps, [])
    in_parts, report_in_parts = fold(plan, attacks, gaps, cuts)
    assert in_parts == at_once
    assert report_in_parts == report_at_once


@given(lateness, heard, st.integers(-RATE, 20 * RATE))
def test_shifting_all_frames_changes_nothing(late, played, shift):
    plan = plan_of(scale())
    moved = plan_of(scale(), downbeat_frame=plan.downbeat_frame + shift)
    attacks = [a for k, a in enumerate(attacks_of(plan, dict(enumerate(late)))) if played[k]]
    shifted = [replace(a, frame=a.frame + shift) for a in attacks]
    assert fold(plan, attacks, (), [])[0] == fold(moved, shifted, (), [])[0]
    assert kinds(judged(plan, attacks)) == kinds(judged(moved, shifted))


@given(lateness, heard)
def test_each_due_gets_exactly_one_verdict(late, played):
    plan = plan_of(scale())
    attacks = [a for k, a in enumerate(attacks_of(plan, dict(enumerate(late)))) if played[k]]
    live, report = fold(plan, attacks, (), [])
    assert len(live) == len(plan.dues)
    assert [v.index for v in report.verdicts] == list(range(len(plan.dues)))
    used = [v.attack for v in report.verdicts if v.attack]
    assert len(used) + len(report.extra) == len(attacks)


@given(st.integers(0, 3), st.integers(1, 30))
def test_a_gap_never_yields_missed(index, length_ms):
    plan = plan_of(scale())
    gap = Gap(plan.dues[index].frame - length_ms * MS, 2 * length_ms * MS)
    attacks = [a for a in attacks_of(plan) if a.frame != plan.dues[index].frame]
    assert kinds(judged(plan, attacks, gaps=(gap,)))[index] == "unsure"


@given(lateness, heard)
def test_a_stored_take_is_judged_as_it_was_live(late, played):
    plan = plan_of(scale())
    attacks = [a for k, a in enumerate(attacks_of(plan, dict(enumerate(late)))) if played[k]]
    _, report = fold(plan, attacks, (), list(range(0, plan.end_frame, 5000)))
    take = Take(1, plan, tuple(attacks), (), resolved=False)
    assert judge_take(take, Rules()) == report


@given(lateness, heard)
def test_matching_agrees_with_mir_eval(late, played):
    """mir_eval's onset matching (Raffel et al., ISMIR 2014) on the same window, offset removed.

    Ours is causal, mir_eval's a maximum matching: with right pitches and windows that do not
    overlap both must pair the same number of notes.
    """
    plan = plan_of(scale())
    attacks = [a for k, a in enumerate(attacks_of(plan, dict(enumerate(late)))) if played[k]]
    still = Rules(window_ms=50, offset_limit_ms=0)
    report = judged(plan, attacks, still)
    ours = sum(v.attack is not None for v in report.verdicts)
    reference = np.array([d.frame / RATE for d in plan.dues])
    estimated = np.array([a.frame / RATE for a in attacks])
    theirs = len(mir_eval.util.match_events(reference, estimated, 0.05 + 1e-9))
    assert ours == theirs


def test_an_ear_that_follows_the_score_is_believed():
    """Its claims hold even where the player has left the window, and seal the note."""
    plan = plan_of(scale())
    slow = [replace(a, frame=a.frame + k * 40 * MS, due=k) for k, a in enumerate(attacks_of(plan))]
    judge = Judge(plan.dues, Rules(), RATE)
    assert judge.step(Evidence(tuple(slow[:3]), up_to_frame=slow[3].frame, resolved=2)) != []
    assert not judge.finished
    judge.step(Evidence(tuple(slow[3:]), up_to_frame=slow[-1].frame, resolved=8))
    report = judge.report()
    assert "missed" not in kinds(report)
    assert report.tempo_ratio == pytest.approx(250 / 290, abs=0.01)
