"""The ceiling pacer finds players it knows nothing of, and ends on a success."""

from __future__ import annotations

import math
from random import Random
from statistics import median

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.gate import Gate
from coach.core.pace.ceiling import CeilingPacer
from coach.core.pace.prior import EarlierTake
from tests.bed.learners import learner

GATE = Gate(threshold=0.9)


def steady(ceiling_bpm: float, tempo_bpm: float) -> int:
    """Of 32 notes so many clean: 29 at the ceiling, all well below, few well above."""
    above = math.log(tempo_bpm / ceiling_bpm)
    return max(0, min(32, round(29 - 60 * above)))


@pytest.mark.parametrize("ceiling", [66.0, 84.0, 110.0])
def test_it_finds_a_steady_player(ceiling):
    pacer = CeilingPacer(60, 132, GATE, endless=True)
    for _ in range(15):
        pacer.after_take(steady(ceiling, pacer.pace.tempo_bpm), 32)
    low, high = pacer.interval_bpm()
    assert low < ceiling < high
    assert pacer.estimate_bpm == pytest.approx(ceiling, rel=0.06)


def test_it_finds_players_made_otherwise_than_it_assumes():
    errors = []
    for seed in range(40):
        random = Random(seed)
        player = learner(random)
        ceiling = player.ceiling_bpm()
        pacer = CeilingPacer(round(ceiling * 0.7), round(ceiling * 1.4), GATE, endless=True)
        for _ in range(15):
            pacer.after_take(player.play(pacer.pace.tempo_bpm, random), player.notes)
        errors.append(abs(math.log(pacer.estimate_bpm / player.ceiling_bpm())))
    assert median(errors) < 0.03


def test_it_ends_on_a_success():
    ended = 0
    for seed in range(30):
        random = Random(seed)
        player = learner(random)
        ceiling = player.ceiling_bpm()
        pacer = CeilingPacer(round(ceiling * 0.7), round(ceiling * 1.4), GATE)
        tempi, passed = [], []
        while not (pacer.done or pacer.pace.reached) and len(tempi) < 60:
            tempi.append(pacer.pace.tempo_bpm)
            clean = player.play(tempi[-1], random)
            passed.append(GATE.passed(clean / player.notes))
            pacer.after_take(clean, player.notes)
        if pacer.done:
            ended += 1
            assert passed[-1] or not any(passed[-3:])
            assert tempi[-1] <= tempi[-2]
    assert ended > 15


def test_a_falling_ceiling_is_told_and_closed_with_an_easier_take():
    pacer, ceiling = CeilingPacer(60, 132, GATE), 100.0
    tempi = []
    for _ in range(60):
        tempi.append(pacer.pace.tempo_bpm)
        pacer.after_take(steady(ceiling, tempi[-1]), 32)
        ceiling *= 0.96 if len(tempi) > 5 else 1
        if pacer.done:
            break
    assert "has come down" in pacer.done
    assert tempi[-1] < tempi[-2]


def test_who_fails_to_the_last_is_not_kept_for_ever():
    pacer, takes = CeilingPacer(60, 132, GATE), 0
    while not pacer.done and takes < 60:
        pacer.after_take(0, 32)
        takes += 1
    assert pacer.done
    assert pacer.pace.tempo_bpm == 30


def test_a_session_opens_below_the_ceiling_that_earlier_takes_tell():
    takes = [EarlierTake(90, clean, 32, 1) for clean in (30, 28, 29, 31, 27, 29)]
    pacer = CeilingPacer(60, 132, GATE, takes)
    assert 75 < pacer.pace.tempo_bpm < pacer.estimate_bpm
    assert pacer.chance(pacer.pace.tempo_bpm) >= 0.84
    assert CeilingPacer(60, 132, GATE).pace.tempo_bpm == 60


def test_the_same_tempo_until_passed_as_often_as_the_gate_asks():
    pacer = CeilingPacer(60, 132, Gate(passes=2))
    pacer.after_take(32, 32)
    assert (pacer.pace.tempo_bpm, pacer.pace.passes_in_a_row) == (60, 1)
    pacer.after_take(32, 32)
    assert pacer.pace.tempo_bpm > 60


def test_a_gate_that_asks_for_every_note_still_moves():
    pacer = CeilingPacer(60, 132, Gate(threshold=1.0))
    for _ in range(4):
        pacer.after_take(32, 32)
    assert pacer.pace.tempo_bpm > 60


@given(
    st.lists(st.integers(0, 24), min_size=1, max_size=25),
    st.integers(200, 2000).map(lambda tenths: tenths / 10),
    st.integers(0, 1500).map(lambda tenths: tenths / 10),
    st.floats(0.5, 1.0),
)
def test_never_faster_after_a_failure_nor_slower_after_a_pass(counts, start, more, threshold):
    gate = Gate(threshold=threshold)
    pacer = CeilingPacer(start, start + more, gate, endless=True)
    for clean in counts:
        before = pacer.pace.tempo_bpm
        pacer.after_take(clean, 24)
        now = pacer.pace.tempo_bpm
        assert start / 2 - 0.1 <= now <= start + more + 0.1
        assert now >= before if gate.passed(clean / 24) else now <= before
        # A step that is none can't be felt; one up to the goal may be small (a tenth is rounding).
        felt = abs(math.log(now / before)) >= 0.015 - 0.1 / before
        assert now == before or felt or now >= round(start + more, 1) or now <= start / 2 + 0.1


@given(st.lists(st.integers(18, 24), max_size=8), st.integers(18, 23))
def test_one_more_clean_note_never_makes_the_next_take_slower(counts, clean):
    """Of takes that were not broken off: one with half of its notes may tell nothing."""
    tempi = []
    for last in (clean, clean + 1):
        pacer = CeilingPacer(60, 132, GATE, endless=True)
        for count in (*counts, last):
            pacer.after_take(count, 24)
        tempi.append(pacer.pace.tempo_bpm)
    assert tempi[0] <= tempi[1]
