"""Voices side by side: common bars with their numbers and signs, and a part of each voice."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from coach.core.score.model import Frame, Head, Meter, Part, PartBar, Signs
from coach.core.score.tempowords import TempoWord, word_of
from coach.files.abc.fields import FINEST
from coach.files.abc.stream import Event, Tone
from coach.files.abc.voice import Voice, VoiceBar

NOTHING = PartBar()


def frames_of(voices: Sequence[Voice]) -> tuple[Frame, ...]:
    """The bars, as many as the longest voice has, each as long as its longest voice.

    ValueError if their lengths have no common measure worth the name.
    """
    count = max(len(voice.bars) for voice in voices)
    numbers = _Numbers()
    made, measure = [], 1
    for at in range(count):
        here = [voice.bars[at] for voice in voices if at < len(voice.bars)]
        length = max(_length(bar) for bar in here)
        measure = math.lcm(measure, length.denominator)
        if measure > FINEST:
            raise ValueError("the lengths have no common measure; a tuplet must be wrong")
        meter = here[0].meter or _free_meter(length)
        number, implicit = numbers.take(here[0], length, meter)
        double = any(voice.bars[at + 1].after_sign for voice in voices if at + 1 < len(voice.bars))
        words = _tempo_words(here)
        signs, tempos = _signs(here), _tempos(here)
        made.append(Frame(number, length, meter, implicit, signs, tempos, words, double))
    return tuple(made)


def _length(bar: VoiceBar) -> Fraction:
    return max(sum((event.length for event in row), Fraction(0)) for row in bar.rows.values())


def _free_meter(length: Fraction) -> Meter:
    """Without a meter each bar has its own: 5/8 where five eighths are in it."""
    parts = length / 4
    fits = parts.denominator & (parts.denominator - 1) == 0 and parts.denominator <= 64
    unit = max(4, parts.denominator)
    counts = int(parts * unit) if fits else 0
    return Meter((counts,), unit) if counts else Meter()


class _Numbers:
    """Numbers from 1; a pick-up is 0, the second half of a split bar has that of the first."""

    def __init__(self) -> None:
        self._last = 0
        self._first = True
        self._missing = Fraction(0)
        self._split = False

    def take(self, bar: VoiceBar, length: Fraction, meter: Meter) -> tuple[str, bool]:
        missing = meter.bar_beats - length
        pick_up = self._first and missing > 0
        rest = not self._first and missing > 0 and self._is_rest(bar, length)
        if not bar.endings or not bar.begins_ending:
            self._split = self._split and bool(bar.endings)
        self._split = self._split or (rest and bool(bar.endings))
        self._first = False
        self._missing = self._missing - length if rest and not self._again(bar) else missing
        if not (pick_up or rest):
            self._last += 1
        return str(self._last), pick_up or rest

    def _is_rest(self, bar: VoiceBar, length: Fraction) -> bool:
        """Begun in the middle of a bar, or behind a repeat sign or double bar in the middle; or
        another ending of which the first was."""
        if self._again(bar):
            return True
        apart = bar.mid or (bar.after_sign and not bar.begins_ending)
        return apart and length <= self._missing

    def _again(self, bar: VoiceBar) -> bool:
        return self._split and bar.begins_ending


def _signs(bars: Sequence[VoiceBar]) -> Signs:
    """What any voice says; endings as the first voice has them that has any."""
    words = {sign for bar in bars for sign in bar.signs}
    jump = "capo" if "capo" in words else "segno" if "segno-back" in words else ""
    return Signs(
        forward=any(bar.forward for bar in bars),
        plays=max(bar.plays for bar in bars),
        endings=next((bar.endings for bar in bars if bar.endings), frozenset()),
        segno="segno" if "segno" in words else "",
        coda="coda" if "coda" in words else "",
        fine="fine" in words,
        to_coda="coda" if "to-coda" in words else "",
        jump=jump,
        jump_label="segno" if jump == "segno" else "",
    )


def _tempos(bars: Sequence[VoiceBar]) -> tuple[tuple[Fraction, float], ...]:
    found: dict[Fraction, float] = {}
    for bar in bars:
        told: dict[Fraction, float] = {}
        for onset, event in _timed(bar.rows[0]):
            if event.quarter_bpm is not None:
                told[onset] = event.quarter_bpm
        found = {**told, **found}
    return tuple(sorted(found.items()))


def _tempo_words(bars: Sequence[VoiceBar]) -> tuple[tuple[Fraction, str], ...]:
    """Each once, whichever voices have it."""
    found: dict[tuple[Fraction, TempoWord | None], str] = {}
    for row in (row for bar in bars for row in bar.rows.values()):
        for onset, event in _timed(row):
            if event.tempo_words:
                found.setdefault((onset, word_of(event.tempo_words)), event.tempo_words)
    return tuple(sorted((onset, text) for (onset, _), text in found.items()))


def _timed(row: Sequence[Event]) -> list[tuple[Fraction, Event]]:
    made, onset = [], Fraction(0)
    for event in row:
        made.append((onset, event))
        onset += event.length
        if onset.denominator > FINEST:
            raise ValueError("the lengths have no common measure; a tuplet must be wrong")
    return made


def part_of(voice: Voice, count: int) -> Part:
    """The part of one voice, filled up to `count` bars."""
    bars = [_part_bar(bar) for bar in voice.bars]
    bars += [NOTHING] * (count - len(bars))
    first = next((tone for stream in voice.streams.values() for tone in stream.tones), None)
    transposition = first.transposition if first else voice.transposition
    return Part(voice.title or f"Voice {voice.name}", tuple(bars), transposition)


def _part_bar(bar: VoiceBar) -> PartBar:
    heads: list[Head] = []
    keys: dict[Fraction, int] = {}
    voices: list[tuple[int, str]] = []
    for row, events in bar.rows.items():
        name = str(row + 1)
        if any(event.tones or event.printed for event in events):
            voices.append((1, name))
        for onset, event in _timed(events):
            heads += [_head(tone, onset, name) for tone in event.tones]
            if event.fifths is not None:
                keys[onset] = event.fifths
    heads.sort(key=lambda head: head.onset)
    return PartBar(tuple(heads), tuple(voices), tuple(sorted(keys.items())))


def _head(tone: Tone, onset: Fraction, voice: str) -> Head:
    return Head(
        onset,
        tone.length,
        tone.written,
        tone.transposition,
        voice,
        clef=tone.clef,
        grace=tone.grace,
        chord=tone.chord,
        tied_back=tone.tied_back,
        tied_on=tone.tied_on,
        slurred=tone.slurred,
        marks=tone.marks,
        fingering=tone.fingering,
        syllable=tone.syllable,
    )
