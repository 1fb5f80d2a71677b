"""Where free playing starts, and its tempo: lines through attacks, and whole recordings of the
simulated player.  The true start and tempo are those of the take as it was made."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import numpy as np
import pytest

import coach
from coach.core.anchor import FASTEST, SLOWEST, Fit, Search, fit_of, moved, worth
from coach.core.take import Attack
from coach.core.timeline import Due
from tests.bed.free import START_S, TEMPO_SHARE, first_sound_s, freed
from tests.bed.synthetic import synthetic_take
from tests.bed.take import RATE

LINE = [60, 62, 64, 65, 67, 67, 67, 65, 64, 62, 60, 60, 64, 67, 72, 71, 69, 67, 65, 64]
STEP = RATE // 6


def dues_of(pitches: list[int]) -> tuple[Due, ...]:
    return tuple(Due(k, p, RATE + k * STEP, STEP, False) for k, p in enumerate(pitches))


def played(dues, fit: Fit, *, seed: int = 1, jitter_s: float = 0.012) -> list[Attack]:
    rng = Random(seed)
    return [
        Attack(
            round(fit.frame(d.frame) + rng.gauss(0, jitter_s) * RATE), d.pitch + 0.1, due=d.index
        )
        for d in dues
    ]


def is_found(dues, fit: Fit, true: Fit) -> bool:
    off = abs(fit.frame(dues[0].frame) - true.frame(dues[0].frame))
    return off <= START_S * RATE and abs(fit.tempo_ratio / true.tempo_ratio - 1) <= TEMPO_SHARE


@pytest.mark.parametrize("ratio", [SLOWEST, 0.83, 1.0, 1.27, FASTEST])
@pytest.mark.parametrize("start_s", [0.0, 3.7])
def test_the_line_is_found_at_any_tempo(ratio: float, start_s: float):
    dues = dues_of(LINE)
    true = Fit(round(start_s * RATE - RATE / ratio), ratio)
    assert is_found(dues, Search(dues, played(dues, true), RATE).starts()[0], true)


@pytest.mark.parametrize("first", [1, 4, 7])
def test_missed_first_notes_wrong_notes_and_a_warm_up_do_not_mislead(first: int):
    dues = dues_of(LINE)
    true = Fit(2 * RATE, 0.9)
    attacks = played(dues, true)[first:]
    attacks[3] = replace(attacks[3], pitch=attacks[3].pitch - 5)
    attacks[6] = replace(attacks[6], pitch=None)
    warm_up = [Attack(k * RATE // 2, p) for k, p in enumerate((60, 67, 64, 60))]
    assert is_found(dues, Search(dues, warm_up + attacks, RATE).starts()[0], true)


def test_a_figure_played_many_times_starts_at_its_first_time():
    dues = dues_of([60, 62, 64, 65, 64, 62] * 16)
    true = Fit(RATE // 3, 1.13)
    assert is_found(dues, Search(dues, played(dues, true), RATE).starts()[0], true)


def test_nothing_heard_has_no_start():
    dues = dues_of(LINE)
    assert Search(dues, [], RATE).starts() == []
    assert Search(dues, [Attack(RATE, 30.0), Attack(2 * RATE, None)], RATE).starts() == []


def test_least_squares_leaves_out_what_is_far_off():
    """Beside numpy's line through the notes that were not delayed."""
    dues = dues_of(LINE)
    claimed = played(dues, Fit(2 * RATE, 0.9))
    late = [replace(a, frame=a.frame + RATE // 5) if a.due in (3, 11) else a for a in claimed]
    kept = [a for a in claimed if a.due not in (3, 11)]
    slope, base = np.polyfit([dues[a.due].frame for a in kept], [a.frame for a in kept], 1)
    fit = fit_of(dues, late, RATE)
    assert fit is not None
    assert fit.tempo_ratio == pytest.approx(1 / slope, rel=1e-6)
    assert fit.start_frame == pytest.approx(base, abs=1)
    assert fit_of(dues, claimed[:2], RATE) is None


def test_worth_falls_with_distance_doubt_and_wrong_pitch():
    dues = dues_of(LINE)
    true = Fit(0, 1.0)
    sound = played(dues, true, jitter_s=0.002)
    best = worth(dues, sound, true, RATE)
    assert best > 0.95
    assert worth(dues, sound, Fit(RATE // 10, 1.0), RATE) < best / 2
    doubted = [replace(a, confidence=0.5) for a in sound]
    assert worth(dues, doubted, true, RATE) == pytest.approx(best / 2)
    wrong = [replace(a, pitch=a.pitch + 3) if a.due % 2 else a for a in sound]
    assert worth(dues, wrong, true, RATE) == pytest.approx(best / 2, abs=0.05)
    assert worth(dues, [], true, RATE) == 0.0


def test_moved_puts_dues_on_the_line():
    first, second = moved(dues_of([60, 62]), Fit(100, 0.5))
    assert (first.frame, second.frame) == (100 + 2 * RATE, 100 + 2 * (RATE + STEP))
    assert first.length_frames == 2 * STEP


SETTINGS = {
    "slow": {"notes_per_s": 4, "count": 14},
    "fast slurred": {"notes_per_s": 10, "articulation": "slurred"},
    "mistakes": {"notes_per_s": 7, "faults": True},
}


@pytest.mark.parametrize("name", SETTINGS)
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_recording_is_found_after_breath_or_noise(name: str, seed: int):
    """The null (first sound, written tempo) must fail, or the test would prove nothing."""
    rng = np.random.default_rng((4, seed))
    take = synthetic_take(rng, sloppy=True, room="typ", **SETTINGS[name])
    made = freed(rng, take, "breath" if seed % 2 else "noise")
    expected = coach.Expected.from_dict(made.free.expected)
    report = coach.assess(made.free.samples, RATE, expected)
    start_s = report.verdicts[0].due.frame / RATE
    assert abs(start_s - made.start_s) <= START_S
    assert abs(report.tempo_ratio / made.tempo_ratio - 1) <= TEMPO_SHARE
    null_start_off_s = abs(first_sound_s(made.free.samples) - made.start_s)
    assert null_start_off_s > START_S or abs(1 / made.tempo_ratio - 1) > TEMPO_SHARE


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_recording_without_its_first_nine_notes_is_found(seed: int):
    """Nine notes stand in the list before those that were played; the line is that of the rest."""
    rng = np.random.default_rng((6, seed))
    made = freed(rng, synthetic_take(rng, notes_per_s=6, sloppy=True, room="typ"))
    notes = made.free.expected["notes"]
    step_s = notes[1]["onset_s"] - notes[0]["onset_s"]
    missing = [notes[0] | {"onset_s": k * step_s, "midi": 55 + k} for k in range(9)]
    later_s = 9 * step_s - notes[0]["onset_s"]
    moved_on = [n | {"onset_s": n["onset_s"] + later_s} for n in notes]
    expected = made.free.expected | {"notes": [*missing, *moved_on]}
    report = coach.assess(made.free.samples, RATE, coach.Expected.from_dict(expected))
    assert abs(report.verdicts[9].due.frame / RATE - made.start_s) <= START_S
    assert abs(report.tempo_ratio / made.tempo_ratio - 1) <= TEMPO_SHARE
