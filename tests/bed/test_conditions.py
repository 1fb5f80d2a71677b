"""Takes under odd conditions: is the sound what it is said to be, and does the truth follow?"""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from tests.bed.conditions import CONDITIONS, broken_off, pair, tuning_of
from tests.bed.predictors import oracle
from tests.bed.recorder import RATIO, compressed
from tests.bed.score import scored, timing, verdicts
from tests.bed.synthetic import synthetic_take
from tests.bed.take import RATE, Take

INTERVAL_S = 1 / 6


def made(name: str, seed: int = 5, **settings) -> tuple[Take, Take]:
    how = {"notes_per_s": 6, "count": 24, "articulation": "mixed"} | settings
    return pair(synthetic_take, seed, CONDITIONS[name], **how)


def dry(seed: int, **settings) -> Take:
    how = {"notes_per_s": 6, "count": 24} | settings
    return synthetic_take(np.random.default_rng(seed), **how)


def band_power(take: Take, low_hz: float, high_hz: float) -> float:
    power = np.abs(np.fft.rfft(take.samples.astype(float))) ** 2
    hz = np.fft.rfftfreq(len(take.samples), 1 / take.rate)
    return float(np.sum(power[(hz >= low_hz) & (hz < high_hz)]) / np.sum(power))


def rms(take: Take, start_s: float, end_s: float) -> float:
    part = take.samples[round(start_s * take.rate) : round(end_s * take.rate)].astype(float)
    return float(np.sqrt(np.mean(part**2)))


def attacks(take: Take) -> list[float | None]:
    return [t.attack_s for t in take.truth]


@pytest.mark.parametrize("name", CONDITIONS)
def test_truth_stands_beside_sound_and_scores_one(name):
    _, take = made(name)
    assert take.samples.dtype == np.float32
    assert np.all(np.isfinite(take.samples))
    assert [t.index for t in take.truth] == list(range(24))
    row = scored(take, oracle(take))
    assert timing([row]).f10 == 1
    assert verdicts([row]).right == 1
    played = [a for a in attacks(take) if a is not None]
    assert all(a < b for a, b in itertools.pairwise(played))
    assert played[-1] < len(take.samples) / take.rate


@pytest.mark.parametrize(
    ("name", "rate"), [(f"{rate} Hz", rate) for rate in (16_000, 22_050, 32_000, 48_000, 96_000)]
)
def test_other_rates_keep_times_and_sound(name, rate):
    plain, take = made(name)
    assert take.rate == rate
    assert attacks(take) == attacks(plain)
    assert len(take.samples) / rate == pytest.approx(len(plain.samples) / RATE, abs=0.001)
    assert rms(take, 1, 3) == pytest.approx(rms(plain, 1, 3), rel=0.02)


def test_bands_end_where_they_should():
    plain, telephone = made("telephone band")
    assert telephone.rate == 16_000
    assert band_power(telephone, 4_050, 8_000) < 1e-6
    assert band_power(telephone, 500, 3_400) == pytest.approx(
        band_power(plain, 500, 3_400), rel=0.03
    )
    assert band_power(made("8 kHz band")[1], 8_100, RATE / 2) < 1e-6


@pytest.mark.parametrize("share", [0.01, 0.05])
def test_that_share_of_the_samples_is_clipped(share):
    _, take = made(f"{100 * share:.0f} % clipped")
    assert np.max(np.abs(take.samples)) == 1.0
    assert np.mean(np.abs(take.samples) >= 1.0) == pytest.approx(share, rel=0.05)


@pytest.mark.parametrize(("attack_s", "release_s"), [(0.005, 0.3), (0.02, 0.3), (0.3, 2.0)])
def test_automatic_gain_takes_three_of_four_decibels(attack_s, release_s):
    """A tone that rises by 12 dB, both levels above the threshold: 3 dB are left of it."""
    t = np.arange(12 * RATE) / RATE
    tone = np.sin(2 * np.pi * 1000 * t) * np.where(t < 6, 0.25, 1.0)
    take = Take(tone.astype(np.float32), RATE, {"notes": []}, ())
    steady = compressed(take, attack_s, release_s)
    step_db = 20 * np.log10(rms(steady, 11, 12) / rms(steady, 5, 6))
    assert step_db == pytest.approx(20 * np.log10(4) / RATIO, abs=0.7)
    # Just after the step the gain has not fallen yet: it leaps by nearly all of the 12 dB.
    first_db = 20 * np.log10(rms(steady, 6, 6 + attack_s / 10) / rms(steady, 5, 6))
    assert first_db > 9


def test_hum_and_direct_current_are_in():
    plain, take = made("hum and DC")
    assert np.mean(take.samples) > 10 * abs(np.mean(plain.samples))
    assert band_power(take, 49, 51) > 20 * band_power(plain, 49, 51)


@pytest.mark.parametrize(("name", "cents"), [("50 cents sharp", 50), ("50 cents flat", -50)])
def test_tuned_off_with_all_times(name, cents):
    plain, take = made(name)
    assert tuning_of(take) == pytest.approx(cents, abs=4)
    assert [n["midi"] for n in take.expected["notes"]] == [
        n["midi"] for n in plain.expected["notes"]
    ]
    ratio = 2 ** ((cents - tuning_of(plain)) / 1200)
    assert attacks(take)[-1] == pytest.approx(attacks(plain)[-1] / ratio, abs=0.001)
    off, before = ([t.attack_s - o for t, o in zip(x.truth, x.onsets_s, strict=True)]
                   for x in (take, plain))  # fmt: skip
    assert off == pytest.approx(before, abs=0.003)


@pytest.mark.parametrize(("name", "tempo"), [("tempo 0.70", 0.7), ("tempo 1.20", 1.2)])
def test_off_the_click_the_sound_stays_and_the_score_moves(name, tempo):
    plain, take = made(name)
    assert np.array_equal(plain.samples, take.samples)
    steps = np.diff(take.onsets_s)
    assert np.min(steps) == pytest.approx(INTERVAL_S, abs=1e-5)
    slope = np.polyfit(take.onsets_s, attacks(take), 1)[0]
    assert 1 / slope == pytest.approx(tempo, rel=0.02)


@pytest.mark.parametrize("seed", range(6))
def test_on_again_in_place_leaves_notes_out(seed):
    plain = dry(seed, articulation="mixed")
    take = broken_off(np.random.default_rng(seed), plain, "in place")
    missed = [k for k, at in enumerate(attacks(take)) if at is None]
    assert missed == list(range(missed[0], missed[-1] + 1))
    assert all(take.truth[k].kind == "missed" for k in missed)
    for k, (at, was) in enumerate(zip(attacks(take), attacks(plain), strict=True)):
        assert at is None if k in missed else at == was
    assert len(take.samples) == len(plain.samples)
    assert not take.truth[missed[-1] + 1].slurred


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize(("how", "again"), [("a beat later", 0), ("four notes again", 4)])
def test_after_a_break_all_is_whole_beats_later(seed, how, again):
    plain = dry(seed, articulation="mixed")
    take = broken_off(np.random.default_rng(seed), plain, how)
    moved = [b - a for a, b in zip(attacks(plain), attacks(take), strict=True)]
    stop = next(k for k, by in enumerate(moved) if by > 0)
    assert 8 <= stop <= 20
    assert moved[:stop] == [0] * stop
    beats = moved[-1] / (4 * INTERVAL_S)
    assert beats == pytest.approx(round(beats), abs=0.001)
    assert moved[stop:] == pytest.approx([moved[-1]] * (24 - stop))
    assert len(take.extras) == again
    first = take.extras[0] if again else attacks(take)[stop]
    assert first - attacks(plain)[stop] >= 0.3
    # Nothing sounds before the player goes on, and there the sound is what it was.
    assert rms(take, first - 0.2, first - 0.006) < 0.01 * rms(take, first, first + 0.1)
    back = round((first - moved[-1]) * RATE)
    here = round(first * RATE)
    assert np.array_equal(take.samples[here : here + 9000], plain.samples[back : back + 9000])


def test_late_after_a_break_is_late_and_the_rest_is_not():
    _, take = made("on again a beat later")
    kinds = [t.kind for t in take.truth]
    stop = kinds.index("late")
    assert set(kinds[:stop]) <= {"clean", "early"}
    assert set(kinds[stop:]) == {"late"}
