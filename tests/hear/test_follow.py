"""The ear that follows the score, on the simulated player: needs nothing from a disk."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import numpy as np
import pytest

from coach.core.judge import Judge
from coach.core.rules import Rules
from coach.core.take import Chunk
from coach.hear.follow.ear import FollowEar
from coach.hear.follow.lean import Lean
from coach.hear.resample import Resampler
from coach.ports.player.skill import STEADY, Fault, perform
from coach.ports.player.tone import render
from tests.making import RATE, plan_of, scale

PITCHES = scale(58, 15) + scale(58, 14)[::-1]
EIGHT_A_SECOND = 240.0


def take_of(faults: dict[int, Fault], *, tempo_bpm: float = EIGHT_A_SECOND, stretch: float = 1.0):
    """(plan, samples, the true attacks): played with these faults, `stretch` times as slowly."""
    plan = plan_of(PITCHES, tempo_bpm=tempo_bpm)
    played_plan = plan
    if stretch != 1.0:
        dues = tuple(
            replace(d, frame=plan.downbeat_frame + round((d.frame - plan.downbeat_frame) * stretch))
            for d in plan.dues
        )
        played_plan = replace(plan, dues=dues)
    played = perform(played_plan, replace(STEADY, jitter_ms=3.0), Random(3), script=faults)
    end = played[-1].end_frame + RATE
    noise = np.random.default_rng(1).normal(0, 1e-4, end).astype(np.float32)
    return plan, render(played, RATE, 0, end) + noise, {p.due: p.frame for p in played}


def broken_off(samples, true, stop: int, resume: int, shift_frames: int):
    """(Samples, the true attacks): silence from note `stop` on, then the take again from note
    `resume`, moved by `shift_frames`."""
    lead, fade = RATE // 200, RATE // 50
    head, tail = samples[: true[stop] - lead].copy(), samples[true[resume] - lead :]
    head[-fade:] *= np.linspace(1, 0, fade, dtype=np.float32)
    pause = true[resume] + shift_frames - true[stop]
    noise = np.random.default_rng(2).normal(0, 1e-4, pause).astype(np.float32)
    before = {k: at for k, at in true.items() if k < stop}
    after = {k: at + shift_frames for k, at in true.items() if k >= max(stop, resume)}
    return np.concatenate([head, noise, tail]), before | after


def heard(plan, samples, block: int = 4096):
    """(the report, every attack told) of samples fed in blocks."""
    ear, judge = FollowEar(plan.dues, RATE), Judge(plan.dues, Rules(), RATE)
    attacks = []
    for start in range(0, len(samples), block):
        part = samples[start : start + block]
        evidence = ear.feed(Chunk(start, len(part), part))
        attacks += [*evidence.attacks, *evidence.refined]
        judge.step(evidence)
    last = ear.finish()
    judge.step(last)
    judge.finish(follows=True)
    return judge.report(), [*attacks, *last.attacks, *last.refined]


def kinds(report) -> dict[int, str]:
    return {v.index: v.kind for v in report.verdicts if v.kind != "clean"}


def test_a_clean_take_at_eight_a_second_is_clean():
    plan, samples, true = take_of({})
    report, _ = heard(plan, samples)
    assert kinds(report) == {}
    off_ms = [(v.attack.frame - true[v.index]) * 1000 / RATE for v in report.verdicts]
    assert np.median(np.abs(off_ms)) < 5


def test_exactly_the_mistakes_are_named():
    """Two notes left out, two 40 ms late, one wrong, at eight a second under the normal rules."""
    faults = {
        3: Fault(missing=True),
        9: Fault(late_ms=40),
        14: Fault(semitones=2),
        20: Fault(missing=True),
        25: Fault(late_ms=40),
    }
    plan, samples, _ = take_of(faults)
    report, _ = heard(plan, samples)
    named = {3: "missed", 9: "late", 14: "wrong", 20: "missed", 25: "late"}
    assert kinds(report) == named
    assert report.verdicts[14].midi == plan.dues[14].pitch + 2


def test_any_block_size_gives_the_same_evidence():
    plan, samples, _ = take_of({4: Fault(missing=True), 11: Fault(late_ms=30)})
    whole_report, whole = heard(plan, samples, block=len(samples))
    for block in (333, 480, 4096):
        report, attacks = heard(plan, samples, block)
        assert report.verdicts == whole_report.verdicts
        assert sorted(attacks, key=repr) == sorted(whole, key=repr)


def test_a_note_is_seen_before_its_verdict():
    plan, samples, true = take_of({})
    ear, judge = FollowEar(plan.dues, RATE), Judge(plan.dues, Rules(), RATE)
    seen, sealed = {}, {}
    for start in range(0, len(samples), 441):
        part = samples[start : start + 441]
        evidence = ear.feed(Chunk(start, len(part), part))
        for verdict in judge.step(evidence):
            sealed[verdict.index] = start
        if evidence.glimpsed is not None:
            assert evidence.glimpsed.due not in (*seen, *sealed)
            assert evidence.glimpsed.pitch is None
            seen[evidence.glimpsed.due] = start
            off_frames = evidence.glimpsed.frame - true[evidence.glimpsed.due]
            assert abs(off_frames) < 0.015 * RATE
    assert len(seen) > 0.8 * len(plan.dues)
    assert np.median([sealed[k] - at for k, at in seen.items()]) > 0.015 * RATE
    assert all(a.due is None or a.pitch is not None for a in judge.heard)


# (Note broken off, note begun again with, beats of four notes that the rest is moved by.)
IN_PLACE, A_BEAT_LATER, FOUR_NOTES_AGAIN = (12, 17, 0), (13, 13, 1), (16, 12, 2)


def resumed(how):
    stop, resume, beats = how
    plan, samples, true = take_of({})
    beat_frames = plan.dues[4].frame - plan.dues[0].frame
    return plan, *broken_off(samples, true, stop, resume, beats * beat_frames)


@pytest.mark.parametrize("how", [IN_PLACE, A_BEAT_LATER, FOUR_NOTES_AGAIN])
def test_who_breaks_off_is_found_back(how):
    plan, samples, true = resumed(how)
    report, attacks = heard(plan, samples)
    stop, resume, _ = how
    for verdict in report.verdicts:
        if stop <= verdict.index < resume:
            assert verdict.kind == "missed"
        else:
            assert verdict.attack is not None
            assert verdict.attack.frame == pytest.approx(true[verdict.index], abs=0.025 * RATE)
    assert {a.due for a in attacks} - {None} == set(true)


def test_notes_played_once_more_are_extra():
    plan, samples, true = resumed(FOUR_NOTES_AGAIN)
    report, _ = heard(plan, samples)
    stop, resume, _ = FOUR_NOTES_AGAIN
    back_frames = true[stop] - (plan.dues[stop].frame - plan.dues[resume].frame)
    extra = [a for a in report.extra if back_frames - 2000 < a.frame < true[stop]]
    assert len(extra) == stop - resume
    assert [round(a.pitch) for a in extra] == [d.pitch for d in plan.dues[resume:stop]]


@pytest.mark.parametrize("how", [A_BEAT_LATER, FOUR_NOTES_AGAIN])
def test_any_block_size_gives_the_same_evidence_after_a_break(how):
    plan, samples, _ = resumed(how)
    whole_report, whole = heard(plan, samples, block=len(samples))
    for block in (480, 1111, 30_000):
        report, attacks = heard(plan, samples, block)
        assert report.verdicts == whole_report.verdicts
        assert sorted(attacks, key=repr) == sorted(whole, key=repr)


def test_who_stops_for_good_gets_the_verdicts():
    """All of them within two seconds of sound, for a take that ends before the music does."""
    plan, samples, true = take_of({})
    stop = 10
    samples = samples.copy()
    samples[true[stop] - RATE // 200 :] = 0
    ear, judge = FollowEar(plan.dues, RATE), Judge(plan.dues, Rules(), RATE)
    sealed_at = {}
    for start in range(0, len(samples), 441):
        part = samples[start : start + 441]
        for verdict in judge.step(ear.feed(Chunk(start, len(part), part))):
            sealed_at[verdict.index] = start + len(part)
    for index in range(stop, len(plan.dues) - 9):
        assert sealed_at[index] <= plan.dues[index].frame + 2 * RATE
    judge.step(ear.finish())
    assert judge.finished
    kinds = [v.kind for v in judge.report().verdicts]
    assert kinds[stop + 1 :] == ["missed"] * (len(plan.dues) - stop - 1)


def test_a_player_thirty_per_cent_slower_is_followed():
    plan, samples, _ = take_of({}, tempo_bpm=180, stretch=1.3)
    report, _ = heard(plan, samples)
    missed = sum(v.kind == "missed" for v in report.verdicts)
    assert missed <= 2
    assert report.tempo_ratio == pytest.approx(1 / 1.3, rel=0.03)


def test_silence_is_missed_not_heard():
    plan, samples, _ = take_of({})
    report, _ = heard(plan, np.zeros_like(samples))
    assert all(v.kind in ("missed", "unsure") for v in report.verdicts)
    assert sum(v.kind == "missed" for v in report.verdicts) > len(plan.dues) / 2


def test_a_late_valve_is_told_from_a_late_tongue():
    """The pitch comes 30 ms after the tongue: the attack is in time, the lag is told."""
    plan, samples, _ = take_of({8: Fault(lag_ms=30.0)}, tempo_bpm=150)
    report, _ = heard(plan, samples)
    verdict = report.verdicts[8]
    assert verdict.attack is not None
    assert verdict.attack.lag_frames == pytest.approx(0.03 * RATE, abs=0.012 * RATE)
    others = [v.attack.lag_frames for v in report.verdicts if v.index != 8 and v.attack]
    told = [abs(lag) for lag in others if lag is not None]
    assert np.median(told) < 0.006 * RATE


@pytest.mark.parametrize("rate", [16_000, 22_050, 44_100, 48_000, 96_000])
def test_resampling_keeps_a_tone_in_its_place(rate):
    """Against the sine itself, sampled at the working rate."""
    hz = 997.0
    sound = np.sin(2 * np.pi * hz * np.arange(rate) / rate).astype(np.float32)
    whole = Resampler(rate, 16_000).feed(sound)
    true = np.sin(2 * np.pi * hz * np.arange(len(whole)) / 16_000)
    assert np.max(np.abs(whole - true)[100:-100]) < 1e-3
    parts = Resampler(rate, 16_000)
    joined = np.concatenate([parts.feed(sound[k : k + 511]) for k in range(0, rate, 511)])
    assert np.array_equal(joined[: len(whole)], whole[: len(joined)])


def test_the_lean_follows_a_slower_player():
    lean, due = Lean(0), 0
    for _ in range(40):
        due += 6000
        lean = lean.heard(due, 0.2 * due, 1.0)
    assert lean.at(due + 6000) == pytest.approx(0.2 * (due + 6000), rel=0.05)
