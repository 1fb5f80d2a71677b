"""Slow playing is heard note by note: simulated playing, and recorded horn where it is at hand."""

from __future__ import annotations

import csv
from dataclasses import replace
from fractions import Fraction
from random import Random

import numpy as np
import pytest

from coach.files.audio import read_audio
from coach.hear.noteends import Levels
from coach.hear.slownotes import hear_slow_notes
from coach.ports.player.skill import STEADY, perform
from coach.ports.player.tone import render
from tests.making import RATE, plan_of, scale


def played(low, *, slurred=False, tempo_bpm=120.0, noise_db=-65.0):
    plan = plan_of(scale(low, 8), length_beats=Fraction(1), tempo_bpm=tempo_bpm)
    dues = tuple(replace(d, slurred=slurred and d.index > 0) for d in plan.dues)
    notes = perform(replace(plan, dues=dues), replace(STEADY, jitter_ms=8.0), Random(low))
    sound = render(notes, RATE, 0, plan.end_frame + RATE)
    noise = np.random.default_rng(1).standard_normal(len(sound)) * 10 ** (noise_db / 20)
    return notes, (sound + noise).astype(np.float32)


@pytest.mark.parametrize("slurred", [False, True])
@pytest.mark.parametrize("low", [41, 53, 65])
def test_a_scale_is_heard(low, slurred):
    notes, sound = played(low, slurred=slurred)
    heard = hear_slow_notes(sound, RATE, lowest_pitch=low)
    assert [round(n.pitch) for n in heard] == [n.pitch for n in notes]
    assert sum(n.joined == slurred for n in heard[1:]) >= 5
    late = [h.frame - n.frame for h, n in zip(heard, notes, strict=True)]
    # Low notes are found late by their pitch: a tenth of a second is a fifth of a note here.
    assert max(map(abs, late)) < 0.1 * RATE


def test_the_end_of_the_last_note_is_heard():
    notes, sound = played(53)
    heard = hear_slow_notes(sound, RATE)
    assert abs(heard[-1].end_frame - notes[-1].end_frame) < 0.12 * RATE


def test_silence_and_noise_are_no_notes():
    assert hear_slow_notes(np.zeros(RATE, np.float32), RATE) == []
    noise = np.random.default_rng(2).standard_normal(2 * RATE).astype(np.float32) * 0.01
    assert hear_slow_notes(noise, RATE) == []


def test_levels_of_a_gap():
    t = np.arange(RATE) / RATE
    sound = (0.1 * np.sin(2 * np.pi * 300 * t)).astype(np.float32)
    sound[RATE // 2 : RATE * 6 // 10] *= 0.001
    levels = Levels(sound, RATE)
    assert levels.is_parted(RATE * 6 // 10)
    assert not levels.is_parted(RATE // 4)
    assert abs(levels.end_frame(0, RATE * 6 // 10) - RATE // 2) < 0.03 * RATE


@pytest.mark.shared
def test_recorded_horn_phrases_are_heard(shared_dir):
    """Real phrases beside the checkout: nine notes of ten on their pitch, few too many."""
    right = notes = extra = 0
    for table in sorted((shared_dir / "recordings" / "phrases").glob("*_D*.csv")):
        sound, rate = read_audio(table.with_suffix(".flac"))
        with table.open() as file:
            truth = [(float(r["onset_s"]), float(r["midi"])) for r in csv.DictReader(file)]
        heard = hear_slow_notes(sound, rate)
        near = [
            any(abs(h.frame / rate - s) < 0.08 and abs(h.pitch - p) < 0.6 for h in heard)
            for s, p in truth
        ]
        right, notes, extra = right + sum(near), notes + len(truth), extra + len(heard) - sum(near)
    assert notes > 20
    assert right >= 0.9 * notes
    assert extra <= 0.2 * notes
