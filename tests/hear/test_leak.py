"""The ensemble is taken out of the microphone, and the player is heard through it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.fft import next_fast_len
from scipy.signal import fftconvolve

from coach.core.expected import Expected
from coach.core.take import Chunk
from coach.hear import through
from coach.hear.leak import LeakCanceller
from coach.hear.leakroom import fast_length
from coach.hear.through import ThroughEar
from tests.bed.leaking import leaked as heard_with
from tests.bed.leaking import response, tutti
from tests.bed.score import verdicts
from tests.benchmarks.leak import heard, judged, right_share, source

RATE = 44_100


def music(seconds, rate=RATE, seed=3):
    """Two moving voices, rich in partials."""
    rng = np.random.default_rng(seed)
    sound = np.zeros(round(seconds * rate))
    for start in np.arange(0, seconds - 0.3, 0.25):
        for _ in range(2):
            hz = 440 * 2 ** ((rng.integers(48, 76) - 69) / 12)
            t = np.arange(round(0.28 * rate)) / rate
            wave = sum(np.sin(2 * np.pi * k * hz * t + k) / k for k in range(1, 12))
            at = round(start * rate)
            sound[at : at + len(t)] += wave * np.minimum(1, t / 0.02)
    return 0.1 * sound


def cancelled(heard, played, rate=RATE, block=4096, from_frame=0):
    padded = np.concatenate([played, np.zeros(rate)]).astype(np.float32)
    canceller = LeakCanceller(rate, lambda frame, n: padded[frame - from_frame :][:n])
    sound = heard.astype(np.float32)
    parts = [
        canceller.feed(from_frame + k, sound[k : k + block]) for k in range(0, len(sound), block)
    ]
    return np.concatenate(parts), canceller


def power(sound):
    return float(np.mean(np.asarray(sound, float) ** 2))


@pytest.fixture(scope="module")
def leak():
    played = music(6)
    return played, fftconvolve(played, response(np.random.default_rng(1), "typ"))[: len(played)]


def test_what_leaks_is_taken_away(leak):
    played, heard = leak
    noise = 1e-4 * np.random.default_rng(2).standard_normal(len(heard))
    cleaned, _ = cancelled(heard + noise, played)
    tail = slice(3 * RATE, None)
    assert power(cleaned[tail]) < 0.02 * power(heard[tail])


@pytest.mark.parametrize("rate", [16_000, 48_000])
def test_other_rates(rate):
    played = music(4, rate)
    heard = 0.5 * np.concatenate([np.zeros(rate // 200), played])[: len(played)]
    cleaned, _ = cancelled(heard, played, rate)
    assert power(cleaned[3 * rate :]) < 0.01 * power(heard[3 * rate :])


def test_a_calibration_that_is_some_milliseconds_off(leak):
    played, _ = leak
    early = np.concatenate([played[round(0.004 * RATE) :], np.zeros(round(0.004 * RATE))])
    cleaned, _ = cancelled(early, played)
    assert power(cleaned[3 * RATE :]) < 0.02 * power(early[3 * RATE :])


def test_any_block_size_gives_the_same(leak):
    played, heard = leak
    played, heard = played[: 2 * RATE], heard[: 2 * RATE]
    whole, _ = cancelled(heard, played, block=len(heard), from_frame=7000)
    for block in (257, 30_000):
        parts, _ = cancelled(heard, played, block=block, from_frame=7000)
        assert np.array_equal(parts, whole)


def test_silence_played_changes_nothing():
    horn = music(1).astype(np.float32)
    cleaned, _ = cancelled(horn, np.zeros(len(horn)))
    assert np.array_equal(cleaned, horn)


def test_a_player_with_headphones_is_left_alone(leak):
    played, _ = leak
    horn = np.concatenate([np.zeros(2 * RATE), music(4, seed=9)])
    noise = 1e-4 * np.random.default_rng(2).standard_normal(len(horn))
    cleaned, canceller = cancelled(horn + noise, played)
    assert power(cleaned - horn - noise) < 1e-3 * power(horn)
    assert canceller.leak_db < -25


def test_nothing_is_asked_later_than_said(leak):
    _, heard = leak
    asked = []

    def source_of(frame, length):
        asked.append(frame + length)
        return np.zeros(length, np.float32)

    canceller = LeakCanceller(RATE, source_of)
    for k in range(0, 2 * RATE, 441):
        canceller.feed(k, heard[k : k + 441].astype(np.float32))
        assert max(asked) <= k + 441 + canceller.ahead_frames


def test_frames_follow_one_another(leak):
    _, heard = leak
    canceller = LeakCanceller(RATE, lambda frame, n: np.zeros(n, np.float32))
    canceller.feed(0, heard[:100].astype(np.float32))
    with pytest.raises(ValueError, match="frame 100"):
        canceller.feed(90, heard[:100].astype(np.float32))


def test_what_remains_is_told_rather_too_high_than_too_low(leak):
    played, heard = leak
    horn = np.concatenate([np.zeros(3 * RATE), 3 * music(3, seed=9)])
    cleaned, canceller = cancelled(heard + horn, played)
    told = canceller.residual_db(4 * RATE, RATE)
    left = power((cleaned - horn)[4 * RATE : 5 * RATE])
    loud = max(power(horn[k : k + 706]) for k in range(4 * RATE, 5 * RATE, 706))
    left_db = 10 * np.log10(left / loud)
    assert left_db - 3 < told < left_db + 15


@pytest.fixture(scope="module")
def excerpts():
    """Two takes of the simulated player inside the ensemble, at -10 dB."""
    made = [tutti(np.random.default_rng(seed), None) for seed in (2, 3)]
    return [
        (one, [heard_with(np.random.default_rng(9), one, db, "typ") for db in (None, -10.0)])
        for one in made
    ]


def test_the_player_is_heard_through_the_ensemble(excerpts):
    alone = [heard(one, clean, "uncancelled") for one, (clean, _) in excerpts]
    covered = [heard(one, leaky, "uncancelled") for one, (_, leaky) in excerpts]
    through_it = [heard(one, leaky, "cancelled") for one, (_, leaky) in excerpts]
    shares = [np.mean([right_share(t) for t in takes]) for takes in (alone, covered, through_it)]
    assert shares[2] >= shares[0] - 0.04
    assert shares[1] < shares[2] - 0.04
    assert verdicts(through_it).false_alarms <= verdicts(alone).false_alarms + 0.03


def test_what_stays_covered_is_masked(excerpts, monkeypatch):
    monkeypatch.setattr(through, "MASKED_DB", -80.0)
    one, (_, leaky) = excerpts[0]
    dues = Expected.from_dict(leaky.expected).dues(RATE)
    ear = ThroughEar(dues, RATE, source(one))
    gaps = ear.feed(Chunk(0, len(leaky.samples), leaky.samples)).gaps
    assert [g.cause for g in gaps] == ["masked"] * len(dues)
    assert all(g.frame < d.frame < g.end_frame for g, d in zip(gaps, dues, strict=True))
    said = judged(leaky, ThroughEar(dues, RATE, source(one)))
    assert sum(row.verdict == "unsure" for row in said.rows) > len(dues) / 2


@pytest.fixture(scope="module")
def excerpt():
    return tutti(np.random.default_rng(1), None)


def test_two_clocks_are_noticed_before_the_entry_and_notes_are_unsure(excerpt):
    """A microphone whose clock runs 50 millionths faster than the loudspeakers'."""
    frames = np.arange(len(excerpt.played)) * (1 + 50e-6)
    played = np.interp(frames, np.arange(len(frames)), excerpt.played)
    take = heard_with(np.random.default_rng(2), replace(excerpt, played=played), 0.0, "typ")
    dues = Expected.from_dict(take.expected).dues(RATE)
    ear = ThroughEar(dues, RATE, source(excerpt))
    said = verdicts([judged(take, ear)])
    assert ear.canceller.surplus_db > 9
    assert said.unsure > 0.8
    assert ear.loss_db > through.MASKED_DB


def test_with_one_clock_nothing_is_surplus(excerpt):
    take = heard_with(np.random.default_rng(2), excerpt, 0.0, "typ")
    entry = round(excerpt.first_s * RATE)
    canceller = LeakCanceller(RATE, source(excerpt), entry - RATE // 10)
    canceller.feed(0, take.samples[: entry + RATE // 2])
    assert canceller._before == []
    assert canceller.surplus_db == 0


def test_lengths_for_the_fft_are_the_smallest_there_are():
    for least in (*range(1, 2000), 20_383, 20_480, 65_537, 100_001):
        assert fast_length(least) == next_fast_len(least, real=True)
