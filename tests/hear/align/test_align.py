"""Bars found in recordings whose bars are known: another sound, another tempo, a room."""

from __future__ import annotations

import builtins
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from coach.core.tutti.ensemble import Voice
from coach.errors import CoachError
from coach.hear.align import align
from tests.bed.ensemble import RATE, Rubato, beats_of, recorded, song

pytest.importorskip("dtw")

VOICES = song(3, 12)
NOTES = [note for voice in VOICES for note in voice.notes]
BARS = beats_of(Fraction(48), Fraction(4))
TEMPO = Rubato(104, 48, 0.15, 13, 1, 38, 0.6)
LEAD_S = 2.0


@pytest.fixture(scope="module")
def sound():
    return recorded(VOICES, TEMPO, 1, LEAD_S)[0]


def errors_s(found, bars=BARS, start_s=LEAD_S):
    true = TEMPO.seconds([float(beat) for beat in bars]) + start_s
    return np.abs(np.array(found.positions.frames) / RATE - true)


def test_bars_are_found_within_50_ms(sound):
    found = align(sound, RATE, NOTES, BARS, bpm=88)
    errors = errors_s(found)[:-1]
    assert np.median(errors) < 0.02
    assert np.quantile(errors, 0.95) < 0.05
    assert min(found.positions.sure) > 0.2


def test_beats_between_them_too_and_at_another_rate(sound):
    twice = np.repeat(sound, 2)
    beats = beats_of(Fraction(48), Fraction(1))
    found = align(twice, 2 * RATE, NOTES, beats, bpm=104)
    true = TEMPO.seconds([float(beat) for beat in beats]) + LEAD_S
    errors = np.abs(np.array(found.positions.frames) / (2 * RATE) - true)[:-4]
    assert np.quantile(errors, 0.95) < 0.06


def test_the_excerpt_is_found_inside_a_longer_recording(sound):
    first, last = Fraction(16), Fraction(32)
    part = [
        replace(note, start_beats=note.start_beats - first)
        for note in NOTES
        if first <= note.start_beats < last
    ]
    bars = beats_of(Fraction(16), Fraction(4))
    found = align(sound, RATE, part, bars, bpm=100)
    moved = [bar + first for bar in bars]
    assert np.max(errors_s(found, moved)[:-1]) < 0.1


def test_a_recording_that_begins_late_says_what_it_does_not_have(sound):
    cut_s = float(TEMPO.seconds([16.0])[0]) + LEAD_S
    found = align(sound[round(cut_s * RATE) :], RATE, NOTES, BARS, bpm=100)
    inside = [k for k, bar in enumerate(BARS) if bar >= 20]
    errors = errors_s(found, BARS, LEAD_S - cut_s)
    assert np.max(errors[inside][:-1]) < 0.1
    assert found.from_beat >= 12
    assert found.positions.sure[:3] == (0, 0, 0)


def test_a_few_bars_of_a_long_page_are_found_in_it():
    voices, first, last = song(2, 60), Fraction(180), Fraction(212)
    page = [note for voice in voices for note in voice.notes]
    part = tuple(
        replace(note, start_beats=note.start_beats - first)
        for note in page
        if first <= note.start_beats < last
    )
    tempo, told = Rubato(104, 32, 0.1), []
    sound = recorded((Voice("all", 0, part),), tempo, 1, LEAD_S)[0]
    bars = beats_of(Fraction(240), Fraction(4))
    found = align(sound, RATE, page, bars, bpm=100, told=told.append)
    inside = [k for k, bar in enumerate(bars) if first <= bar < last]
    true = tempo.seconds([float(bars[k] - first) for k in inside]) + LEAD_S
    assert np.max(np.abs(np.array(found.positions.frames)[inside] / RATE - true)) < 0.1
    assert [bool(sure) for sure in found.positions.sure][38:42] == [False] * 4
    assert first - 4 <= found.from_beat < found.to_beat <= last + 4
    assert told == sorted(told)
    assert (told[0], told[-1]) == (0, 1)


def test_what_is_not_the_piece_is_heard_to_be_another(sound):
    other = [replace(note, pitch=note.pitch + 6) for note in NOTES]
    right = align(sound, RATE, NOTES, BARS, bpm=100).positions.sure
    try:
        wrong = align(sound, RATE, other, BARS, bpm=100).positions.sure
    except CoachError:
        return
    assert np.median(wrong) < np.median(right) / 2


@pytest.mark.parametrize("samples", [np.zeros(RATE * 9, np.float32), np.zeros(10, np.float32)])
def test_silence_has_nothing_in_common(samples):
    with pytest.raises(CoachError, match="nothing in common"):
        align(samples, RATE, NOTES, BARS, bpm=100)


def test_without_the_library_one_sentence_says_what_to_install(sound, monkeypatch):
    real = builtins.__import__

    def without(name, *rest, **more):
        if name == "dtw":
            raise ImportError
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(CoachError, match="pip install dtw-python"):
        align(sound[: RATE * 5], RATE, NOTES, BARS, bpm=100)
