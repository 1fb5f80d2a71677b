"""From beats to frames: when each note is due and each click sounds.

Every time is computed from the downbeat in one rounding, round(k * 60 * rate / bpm), and never
accumulated, so the five-hundredth click is as exact as the first.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from coach.core.exercise import ClickStyle, Exercise
from coach.core.passage import BarSpan, Passage


@dataclass(frozen=True, slots=True)
class Due:
    """A note that is to start at `frame`; `pitch` is the sounding MIDI number."""

    index: int
    pitch: int
    frame: int
    length_frames: int
    slurred: bool = False
    syllable: str | None = None
    fingering: str | None = None


@dataclass(frozen=True, slots=True)
class Click:
    """One click at `frame`; `kind` is "bar" (first beat), "beat" or "part" (inside a beat)."""

    frame: int
    kind: str


@dataclass(frozen=True, slots=True)
class Plan:
    """A take laid out in frames: what is due, when it clicks, where it begins and ends.

    `start_frame` is the first count-in click, `downbeat_frame` the first beat of the passage.
    """

    exercise: Exercise
    rate: int
    start_frame: int
    downbeat_frame: int
    end_frame: int
    dues: tuple[Due, ...]
    clicks: tuple[Click, ...]

    @property
    def listen_from_frame(self) -> int:
        """Half a click before the downbeat: what sounds earlier is none of the notes."""
        click_frames = frames_from_downbeat(1, self.exercise.tempo_bpm, self.rate)
        return self.downbeat_frame - click_frames // 2

    def pulse_at(self, frame: int) -> int:
        """Which click of an even tempo a frame follows, from the downbeat (before it: negative)."""
        return int((frame - self.downbeat_frame) // (60 * self.rate / self.exercise.tempo_bpm))


def frames_from_downbeat(pulses: Fraction | int, bpm: float, rate: int) -> int:
    """Frames from the downbeat to a place in clicks (which may be negative or a fraction)."""
    return round(Fraction(pulses) * 60 * rate / Fraction(str(round(bpm, 3))))


def frame_of(exercise: Exercise, rate: int, downbeat_frame: int, beats: Fraction) -> int:
    """The frame on which a beat of the page falls, in quarter notes from the downbeat (negative in
    the count-in); exact through all changes of tempo, rounded once."""
    even = beats if exercise.warp is None else exercise.warp.even(beats)
    pulses = even / exercise.passage.pulse_beats
    return downbeat_frame + frames_from_downbeat(pulses, exercise.tempo_bpm, rate)


def count_in_frames(exercise: Exercise, rate: int) -> int:
    """Length of the count-in in frames."""
    beats = exercise.click.count_in_bars * exercise.passage.bar_beats
    return -frame_of(exercise, rate, 0, -beats)


def plan_take(exercise: Exercise, rate: int, downbeat_frame: int) -> Plan:
    """Lay the exercise out in frames around `downbeat_frame`."""
    return Plan(
        exercise,
        rate,
        downbeat_frame - count_in_frames(exercise, rate),
        downbeat_frame,
        frame_of(exercise, rate, downbeat_frame, exercise.passage.length_beats),
        dues(exercise, rate, downbeat_frame),
        clicks(exercise, rate, downbeat_frame),
    )


def dues(exercise: Exercise, rate: int, downbeat_frame: int) -> tuple[Due, ...]:
    """When each note of the exercise is due."""

    def frame(beats: Fraction) -> int:
        return frame_of(exercise, rate, downbeat_frame, beats)

    return tuple(
        Due(
            index,
            note.pitch,
            frame(note.start_beats),
            frame(note.end_beats) - frame(note.start_beats),
            note.slurred,
            note.syllable,
            note.fingering,
        )
        for index, note in enumerate(exercise.passage.notes)
    )


def clicks(exercise: Exercise, rate: int, downbeat_frame: int) -> tuple[Click, ...]:
    """The clicks of the count-in and of every bar of the passage in which the click is on."""
    passage, style = exercise.passage, exercise.click
    made = []
    for number, bar in enumerate(_all_bars(passage, style.count_in_bars), -style.count_in_bars):
        if _silent(number, style.off_bars):
            continue
        step = bar.pulse_beats / style.subdivision
        for part in range(math.ceil((bar.end_beats - bar.start_beats) / step)):
            at = frame_of(exercise, rate, downbeat_frame, bar.start_beats + part * step)
            made.append(Click(at, _kind(part, style)))
    return tuple(made)


def _all_bars(passage: Passage, count_in_bars: int) -> list[BarSpan]:
    """The bars of the count-in, in the first meter, and those of the passage."""
    length, pulse = passage.bar_beats, passage.pulse_beats
    before = [BarSpan(k * length, (k + 1) * length, pulse) for k in range(-count_in_bars, 0)]
    return [*before, *passage.bars] if passage.notes else before


def _silent(bar: int, off_bars: tuple[int, int] | None) -> bool:
    if off_bars is None or bar < 0:
        return False
    on, off = off_bars
    return bar % (on + off) >= on


def _kind(part: int, style: ClickStyle) -> str:
    if part % style.subdivision:
        return "part"
    return "bar" if style.accent and part == 0 else "beat"
