"""The round trip found in recordings whose delay is known."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import butter, lfilter

from coach.errors import CoachError
from coach.hear.roundtrip import find_round_trip, make_probe

RATE = 48_000
SENT = [4_800 + 28_000 * k for k in range(6)]
MS = RATE / 1000


def recording(delays, *, level_db=-20.0, noise_db=-70.0, seed=1, change=None):
    """Probes that come back after `delays` (frames, fractions allowed) in white noise."""
    probe = make_probe(RATE).astype(float)
    rng = np.random.default_rng(seed)
    out = np.zeros(SENT[-1] + 80_000)
    for sent, delay in zip(SENT, delays, strict=True):
        whole, part = divmod(delay, 1)
        spectrum = np.fft.rfft(probe, 8192)
        turn = np.exp(-2j * np.pi * np.fft.rfftfreq(8192) * part)
        moved = np.fft.irfft(spectrum * turn, 8192)[: len(probe) + 64]
        at = sent + int(whole)
        out[at : at + len(moved)] += 10 ** (level_db / 20) * moved
    if change is not None:
        out = change(out)
    out += 10 ** (noise_db / 20) * rng.standard_normal(len(out))
    return out.astype(np.float32)


def found(samples):
    return find_round_trip(samples, make_probe(RATE), SENT, RATE)


@pytest.mark.parametrize("delay", [0, 384, 1234.5, 9_600.25, 20_000])
def test_a_known_delay_is_found_within_a_hundredth_of_a_millisecond(delay):
    trip = found(recording([delay] * 6))
    assert trip.frames == pytest.approx(delay, abs=0.01 * MS)
    assert trip.spread_frames < 1
    assert trip.level_db == pytest.approx(-20, abs=0.5)


@pytest.mark.parametrize(
    ("name", "change"),
    [
        ("turned over", lambda x: -x),
        ("small loudspeaker", lambda x: lfilter(*butter(2, [400, 5000], "band", fs=RATE), x)),
        ("clipped", lambda x: np.clip(x, -0.005, 0.005)),
        ("a first reflection 3 dB down", lambda x: x + 0.7 * np.roll(x, 240)),
    ],
)
def test_it_holds_within_a_millisecond_through_bad_equipment(name, change):
    trip = found(recording([3_000] * 6, change=change))
    assert trip.frames == pytest.approx(3_000, abs=MS), name


def test_it_holds_at_a_poor_level_in_noise():
    trip = found(recording([3_000] * 6, level_db=-30, noise_db=-50))
    assert trip.frames == pytest.approx(3_000, abs=MS)


def test_one_probe_that_was_coughed_over_does_no_harm():
    samples = recording([3_000] * 6)
    samples[SENT[2] : SENT[2] + 26_000] = 0.2 * np.random.default_rng(2).standard_normal(26_000)
    assert found(samples).frames == pytest.approx(3_000, abs=MS)


def test_silence_is_told():
    with pytest.raises(CoachError, match="the input is silent"):
        found(np.zeros(SENT[-1] + 80_000, np.float32))


@pytest.mark.parametrize("seed", range(5))
def test_noise_alone_is_never_taken_for_an_echo(seed):
    noise = 0.05 * np.random.default_rng(seed).standard_normal(SENT[-1] + 80_000)
    with pytest.raises(CoachError, match="test sounds"):
        found(noise.astype(np.float32))


def test_delays_that_disagree_are_refused_with_the_reason():
    with pytest.raises(CoachError, match="ms apart; use one device for both directions"):
        found(recording([3_000, 3_000, 3_000, 3_400, 3_400, 3_400]))
