"""The test bed itself: is the truth of a take true, and does the scoring score rightly?"""

from __future__ import annotations

import itertools
from dataclasses import replace

import mir_eval
import numpy as np
import pytest

from tests.bed import line
from tests.bed.augment import hurried
from tests.bed.lags import lags, lags_told
from tests.bed.pairs import f_measure
from tests.bed.predictors import null, oracle
from tests.bed.real import is_clear, real_takes
from tests.bed.render import make_take
from tests.bed.room import recorded
from tests.bed.score import Heard, NoteHeard, scored, timing, verdicts
from tests.bed.sources import load_notes
from tests.bed.splice import resampled
from tests.bed.synthetic import synthetic_take
from tests.bed.take import RATE, Take, Truth, expected_of, timed

KINDS = {"clean", "missed", "wrong", "split", "muffled", "early", "late"}


def made(seed: int, **settings) -> Take:
    return synthetic_take(np.random.default_rng(seed), **{"notes_per_s": 6, "count": 12} | settings)


def power(take: Take, start_s: float, end_s: float) -> float:
    part = take.samples[round(start_s * RATE) : round(end_s * RATE)].astype(float)
    return float(np.mean(part**2))


def strength(take: Take, start_s: float, end_s: float, midi: float) -> float:
    """Power on the first three harmonics of a pitch."""
    part = take.samples[round(start_s * RATE) : round(end_s * RATE)].astype(float)
    part *= np.hanning(len(part))
    hz = 440 * 2 ** ((midi - 69) / 12)
    waves = np.exp(-2j * np.pi * hz / RATE * np.outer([1, 2, 3], np.arange(len(part))))
    return float(np.sum(np.abs(waves @ part) ** 2))


@pytest.mark.parametrize("seed", range(6))
def test_truth_stands_beside_each_expected_note(seed):
    take = made(seed, faults=True, lags=True, articulation="mixed", sloppy=seed % 2 == 0)
    assert [t.index for t in take.truth] == list(range(len(take.expected["notes"])))
    assert {t.kind for t in take.truth} <= KINDS
    assert all((t.attack_s is None) == (t.kind == "missed") for t in take.truth)
    played = [t.attack_s for t in take.truth if t.attack_s is not None]
    assert all(a < b for a, b in itertools.pairwise(played))
    for truth, note in zip(take.truth, take.expected["notes"], strict=True):
        assert (truth.midi != note["midi"]) == (truth.kind == "wrong")
        assert truth.slurred == note["slurred"]


def test_same_seed_gives_the_same_take():
    one, other = made(3, room="typ", click_db=-10), made(3, room="typ", click_db=-10)
    assert np.array_equal(one.samples, other.samples)
    assert one.expected == other.expected
    assert one.truth == other.truth


def test_tongued_note_rises_at_its_attack():
    take = made(1, notes_per_s=3, count=16)
    rises = [
        power(take, t.attack_s + 0.04, t.attack_s + 0.09)
        / power(take, t.attack_s - 0.008, t.attack_s)
        for t in take.truth
    ]
    assert min(rises) > 10**0.6


def test_slurred_note_takes_over_at_its_attack():
    take = made(2, notes_per_s=4, count=16, articulation="slurred")
    slurs = [(a, b) for a, b in itertools.pairwise(take.truth) if b.slurred]
    assert len(slurs) >= 5
    for old, new in slurs:
        at = new.attack_s
        after = [strength(take, at + 0.02, at + 0.12, t.midi) for t in (old, new)]
        before = [strength(take, at - 0.12, at - 0.02, t.midi) for t in (old, new)]
        assert after[1] / after[0] > before[1] / before[0]


def test_clicks_count_in_a_bar_before_the_first_note():
    take = made(4, notes_per_s=6, click_db=0)
    clicks, first = take.expected["clicks_s"], take.onsets_s[0]
    assert sum(c < first - 1e-6 for c in clicks) == 4
    assert any(abs(c - first) < 1e-5 for c in clicks)
    assert power(take, clicks[0], clicks[0] + 0.02) > 100 * power(take, 0, clicks[0] - 0.001)


def test_gain_keeps_the_peak_between_minus_24_and_minus_1_db():
    tone = np.sin(np.arange(RATE) * 0.05)
    for seed, room in itertools.product(range(5), ("dry", "typ", "hard")):
        peak = np.max(np.abs(recorded(np.random.default_rng(seed), tone, room)))
        assert 10 ** (-24.01 / 20) <= peak <= 10 ** (-0.99 / 20)


@pytest.mark.parametrize("rate", [4, 8, 14])
def test_null_hears_about_a_third_of_sloppy_playing_within_10_ms(rate):
    rng = np.random.default_rng(rate)
    shares = []
    for _ in range(200):
        onsets = line.grid(rng, rate, 24, 0.5)
        attacks = line.in_order(onsets + line.sloppy(rng, onsets), onsets)
        off = attacks - onsets
        shares.append(np.mean(np.abs(off - np.median(off)) <= 0.010))
        assert np.all(np.diff(attacks) > 0.4 / rate)
    assert 0.2 < np.mean(shares) < 0.4


def test_oracle_scores_one():
    takes = [made(s, faults=True, lags=True, notes_per_s=4) for s in range(8)]
    rows = [scored(t, oracle(t)) for t in takes]
    times = timing(rows)
    assert (times.f10, times.f25, times.hit10, times.found) == (1, 1, 1, 1)
    assert times.median_ms == times.p95_ms == 0
    judged = verdicts(rows)
    assert (judged.right, judged.false_alarms, judged.extra_recall) == (1, 0, 1)
    assert set(judged.recall.values()) == {1}
    assert lags(rows)[:3] == (0, 0, 1)


def test_constant_bias_is_removed_once_for_all_takes():
    takes = [made(s, notes_per_s=4) for s in range(3)]
    late = [scored(t, Heard(tuple(a + 0.017 for a in oracle(t).attacks))) for t in takes]
    assert timing(late).f10 == 1
    uneven = [
        scored(t, Heard(tuple(a + 0.02 * k for a in oracle(t).attacks)))
        for k, t in enumerate(takes)
    ]
    assert timing(uneven).f10 == pytest.approx(1 / 3)
    assert timing(uneven, per_take_bias=True).f10 == 1


def test_bias_rests_on_all_notes_though_some_count():
    take = made(1, notes_per_s=4)
    late = tuple(a + (0.03 if k == 5 else 0.0) for k, a in enumerate(oracle(take).attacks))
    found = timing(
        [scored(take, Heard(late))], keep=lambda row: row.truth.index == 5, per_take_bias=True
    )
    assert found.count == 1
    assert found.median_ms == pytest.approx(30, abs=0.01)
    assert found.hit25 == found.f25 == 0


def test_verdicts_are_counted():
    truth = [Truth(k, 1.0 + k, 60, kind) for k, kind in enumerate(["clean"] * 4 + ["split"] * 2)]
    truth[3] = replace(truth[3], also=("late",))
    said = ["clean", "late", "unsure", "late", "split", "clean"]
    onsets = [1.0 + k for k in range(6)]
    expected = expected_of("horn", onsets, [1.0] * 6, [60] * 6, [False] * 6)
    take = Take(np.zeros(RATE, np.float32), RATE, expected, tuple(truth))
    notes = tuple(NoteHeard(1.0 + k, verdict) for k, verdict in enumerate(said))
    found = verdicts([scored(take, Heard(tuple(onsets), notes))])
    assert found.false_alarms == pytest.approx(1 / 3)
    assert found.right == pytest.approx(3 / 5)
    assert found.unsure == pytest.approx(1 / 6)
    assert found.recall == {"clean": 0.5, "split": 0.5}
    assert found.confused[("clean", "late")] == 1


def heard_of_six(kinds_midi, notes) -> Take:
    onsets = [1.0 + k for k in range(6)]
    truth = [
        Truth(k, t, m, lag_ms=lag)
        for k, (t, (m, lag)) in enumerate(zip(onsets, kinds_midi, strict=True))
    ]
    expected = expected_of("horn", onsets, [1.0] * 6, [m for m, _ in kinds_midi], [False] * 6)
    take = Take(np.zeros(8 * RATE, np.float32), RATE, expected, tuple(truth))
    return scored(take, Heard(tuple(n.attack_s for n in notes), tuple(notes)))


def test_lags_found_and_made_up_by_threshold():
    """Four lags, two of them told by 10 ms on their side; two notes without, one of them told."""
    lags_ms = [20.0, -20.0, 30.0, -16.0, 0.0, 0.0]
    told = [12.0, -9.0, -30.0, -40.0, 11.0, None]
    notes = [NoteHeard(1.0 + k, "clean", lag) for k, lag in enumerate(told)]
    row = heard_of_six([(60, lag) for lag in lags_ms], notes)
    low, middle, high = lags_told([row], (8.0, 10.0, 15.0))
    assert (low.found, low.false) == (0.75, 0.5)
    assert (middle.found, middle.false, middle.lagging, middle.steady) == (0.5, 0.5, 4, 2)
    assert (high.found, high.false) == (0.25, 0.0)


def test_bias_is_told_by_register_with_its_sign():
    off_ms = [5, 7, -2, -2, 0, 0]
    notes = [NoteHeard(1.0 + k + ms / 1000, "clean") for k, ms in enumerate(off_ms)]
    row = heard_of_six([(45, None)] * 2 + [(60, None)] * 2 + [(70, None)] * 2, notes)
    found = timing([row])
    assert found.biases_ms == pytest.approx({"low": 6, "mid": -2, "high": 0}, abs=1e-6)
    assert found.bias_ms == pytest.approx(0, abs=1e-6)
    assert found.registers["low"][0] == pytest.approx(6, abs=1e-6)


def test_early_and_late_follow_the_default_tolerance():
    """The smaller of 25 ms and 20 % of the interval, after removing the median."""
    onsets = [1 + 0.1 * k for k in range(7)]
    off = [0.01, 0.01, 0.01, 0.01, 0.038, 0.01, -0.018]
    expected = expected_of("horn", onsets, [0.1] * 7, [60] * 7, [False] * 7)
    truth = [Truth(k, t + d, 60) for k, (t, d) in enumerate(zip(onsets, off, strict=True))]
    assert [t.kind for t in timed(truth, expected)] == ["clean"] * 4 + ["late", "clean", "early"]


@pytest.mark.parametrize("seed", range(20))
def test_f_measure_agrees_with_mir_eval(seed):
    """mir_eval.onset.f_measure, which pairs by maximum matching in a graph."""
    rng = np.random.default_rng(seed)
    true = np.sort(rng.uniform(0, 3, 40))
    heard = np.sort(np.concatenate([true[rng.random(40) < 0.8], rng.uniform(0, 3, 10)]))
    heard = np.sort(heard + rng.normal(0, 0.02, len(heard)).clip(-0.5, 0.5))
    for window in (0.010, 0.025):
        theirs = mir_eval.onset.f_measure(true, heard, window=window)
        assert f_measure(true, heard, window) == pytest.approx(theirs)


def test_resampling_reads_a_sine_where_it_should():
    wave = np.sin(2 * np.pi * 440 / RATE * np.arange(4000)).astype(np.float32)
    read = resampled(wave, 100.25, 1.1, 2000)
    exact = np.sin(2 * np.pi * 440 / RATE * (100.25 + 1.1 * np.arange(2000)))
    assert np.max(np.abs(read - exact)) < 1e-4


def test_hurried_take_keeps_the_start_of_each_note():
    take = made(5, notes_per_s=1.5, count=10)
    samples, truth = hurried(np.random.default_rng(1), take.samples, take.truth, 0.3)
    assert len(samples) < 0.7 * len(take.samples)
    assert truth[-1].attack_s - truth[0].attack_s < 0.7 * (
        take.truth[-1].attack_s - take.truth[0].attack_s
    )
    for old, new in zip(take.truth, truth, strict=True):
        at, moved = round(old.attack_s * RATE), round(new.attack_s * RATE)
        assert np.array_equal(
            samples[moved - 400 : moved + 1200], take.samples[at - 400 : at + 1200]
        )


@pytest.mark.shared
def test_no_note_of_the_test_split_is_in_training(shared_dir):
    train, test = load_notes(shared_dir, "train"), load_notes(shared_dir, "test")
    pitches = [{(n.instrument, round(n.midi)) for n in notes} for notes in (train, test)]
    assert not pitches[0] & pitches[1]
    for notes in (train, test):
        assert {n.instrument for n in notes} == {"horn", "trombone", "trumpet", "tuba"}
    assert 0.25 < len(test) / (len(train) + len(test)) < 0.4


@pytest.mark.shared
@pytest.mark.parametrize("articulation", ["tongued", "slurred", "mixed"])
def test_spliced_take_is_sound_and_the_oracle_right(shared_dir, articulation):
    notes = [n for n in load_notes(shared_dir, "test") if n.instrument == "horn"]
    for seed in range(3):
        take = make_take(
            np.random.default_rng(seed), notes, notes_per_s=6, articulation=articulation,
            faults=True, room="typ",
        )  # fmt: skip
        assert take.samples.dtype == np.float32
        assert np.all(np.isfinite(take.samples))
        assert timing([scored(take, oracle(take))]).f10 == 1


@pytest.mark.shared
def test_spliced_tongued_note_rises_at_its_attack(shared_dir):
    notes = load_notes(shared_dir, "test")
    rises = []
    for seed in range(4):
        take = make_take(np.random.default_rng(seed), notes, notes_per_s=4)
        rises += [
            power(take, t.attack_s + 0.05, t.attack_s + 0.1)
            / power(take, t.attack_s - 0.008, t.attack_s - 0.001)
            for t in take.truth
        ]
    # One in seven is a near-legato join, whose old note still sounds.
    assert np.percentile(rises, 25) > 10**0.3
    assert np.median(rises) > 10


@pytest.mark.shared
def test_expected_times_of_real_takes_are_not_the_truth(shared_dir):
    takes = real_takes(shared_dir, "all")
    assert len(takes) == 23
    assert sum(is_clear(t) for take in takes for t in take.truth) >= 20
    rows = [scored(t, null(t)) for t in takes]
    assert timing(rows, per_take_bias=True).hit10 < 0.6
