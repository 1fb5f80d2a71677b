"""Takes spliced from recorded notes, with their truth: `make_take`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.bed import line
from tests.bed.faults import Slip, slips
from tests.bed.room import click_waves, level_of, recorded
from tests.bed.sources import SourceNote
from tests.bed.splice import SPARSE_SHIFT, USUAL_SHIFT, Part, Shelf, sounded
from tests.bed.take import RATE, SPLIT_MS, Take, Truth, expected_of, timed

COUNT_IN = 4
LEVEL, DB_PER_SEMITONE, LEVEL_SD_DB = 0.1, 0.3, 1.2
ARTICULATIONS = ("tongued", "slurred", "mixed")


@dataclass(frozen=True, slots=True)
class Score:
    """What is asked for, and what becomes of it; times in seconds, one value a note.  Without
    `lengths` every note lasts until the next."""

    pitches: list[int]
    slurred: list[bool]
    onsets: line.Floats
    attacks: line.Floats
    slips: list[Slip]
    interval_s: float
    lengths: line.Floats | None = None


def make_take(
    rng: np.random.Generator,
    notes: Sequence[SourceNote],
    *,
    instrument: str = "horn",
    notes_per_s: float,
    count: int = 24,
    articulation: str = "tongued",
    sloppy: bool = False,
    faults: bool = False,
    lags: bool = False,
    room: str = "dry",
    click_db: float | None = None,
    varied: bool = False,
) -> Take:
    """A take of `count` notes, `notes_per_s` of them a second.

    `click_db`: clicks in the recording, the loudest 10 ms of each against the median level of the
    horn, after a bar of count-in.  `varied`: every note is a little unlike its source.  The same
    state of `rng` gives the same take.
    """
    if articulation not in ARTICULATIONS:
        raise ValueError(f"there is no articulation {articulation!r}")
    mine = [n for n in notes if n.instrument == instrument]
    dynamic = int(rng.integers(3))
    shift = USUAL_SHIFT if instrument == "horn" and not varied else SPARSE_SHIFT
    shelf = Shelf(mine, dynamic, rng, shift, varied)
    beat_s, start_s = beats(rng, notes_per_s, click_db)
    score = _score(rng, shelf, notes_per_s, count, articulation, start_s, (sloppy, faults, lags))
    tuning = rng.uniform(-0.2, 0.2) if rng.random() < 0.85 else rng.uniform(-0.45, 0.45)
    parts, extras = parts_of(rng, score, tuning)
    frames = max(p.stop for p in parts) + int(0.6 * RATE)
    sound = sounded(parts, shelf, frames)
    clicks_s, clicks = np.zeros(0), None
    if click_db is not None:
        clicks_s = np.arange(start_s - COUNT_IN * beat_s, frames / RATE - 0.3, beat_s)
        level = level_of(sound) * 10 ** (click_db / 20)
        clicks = click_waves(rng, clicks_s, frames, level)
    samples = recorded(rng, sound, room, clicks)
    lengths = np.append(np.diff(score.onsets), 1 / notes_per_s)
    expected = expected_of(
        instrument, score.onsets, lengths, score.pitches, score.slurred, clicks_s
    )
    truth = timed(truth_of(score), expected)
    name = f"{instrument} {articulation} {notes_per_s:g}/s {room}"
    return Take(samples, RATE, expected, truth, extras, name)


def beats(
    rng: np.random.Generator, notes_per_s: float, click_db: float | None
) -> tuple[float, float]:
    """(beat, first onset) in seconds: a bar of count-in where there are clicks."""
    in_beat = next(n for n in (1, 2, 3, 4, 6, 8) if n / notes_per_s >= 0.28 or n == 8)
    beat_s = in_beat / notes_per_s
    if click_db is None:
        return beat_s, float(rng.uniform(0.25, 0.8))
    return beat_s, float(rng.uniform(0.1, 0.3)) + COUNT_IN * beat_s


def _score(
    rng: np.random.Generator,
    shelf: Shelf,
    notes_per_s: float,
    count: int,
    articulation: str,
    start_s: float,
    how: tuple[bool, bool, bool],
) -> Score:
    sloppy, faults, lags = how
    allowed = shelf.pitches()
    lowest = 0 if notes_per_s <= 8 else 38 if notes_per_s <= 11 else 43
    pitches = line.pitches(rng, [p for p in allowed if p >= lowest] or allowed, count)
    slurred = slurs(rng, pitches, articulation)
    onsets = line.grid(rng, notes_per_s, count, start_s)
    interval_s = 1 / notes_per_s
    made = slips(rng, pitches, slurred, interval_s, faults=faults, lags=lags)
    off = line.sloppy(rng, onsets) if sloppy else line.tight(rng, onsets)
    attacks = onsets + off + [s.off_s for s in made]
    attacks = line.in_order(np.maximum(attacks, 0.05), onsets, 0.4 if faults else 0.5)
    return Score(pitches, slurred, onsets, attacks, made, interval_s)


def slurs(rng: np.random.Generator, pitches: Sequence[int], articulation: str) -> list[bool]:
    """Which notes are slurred: never the first, never a repeated pitch."""
    made = [False]
    group = int(rng.integers(2, 5)) if articulation == "mixed" else int(rng.integers(6, 13))
    for k in range(1, len(pitches)):
        wanted = articulation != "tongued" and k % group != 0
        if articulation == "mixed" and rng.random() < 0.2:
            wanted = not wanted
        made.append(wanted and pitches[k] != pitches[k - 1])
    return made


@dataclass(slots=True)
class _Sung:
    """A note that sounds: what it is, when, and until when."""

    attack: float
    pitch: float
    slip: Slip
    slurred: bool
    before: float | None
    due_end: float
    held: bool = False


def parts_of(
    rng: np.random.Generator, score: Score, tuning: float
) -> tuple[list[Part], tuple[float, ...]]:
    """The notes as they sound, in order, and the times of those that nobody asked for."""
    sung: list[_Sung] = []
    extras: list[float] = []
    ends = np.append(score.attacks[1:], score.attacks[-1] + max(0.3, score.interval_s))
    if score.lengths is not None:
        ends = np.minimum(ends, score.attacks + score.lengths)
    for k, slip in enumerate(score.slips):
        if slip.kind == "missed":
            follows = k + 1 < len(score.slips) and score.slurred[k + 1]
            if sung and (score.slurred[k] or follows or rng.random() < 0.25):
                sung[-1].held = True
            continue
        pitch = score.pitches[k] + slip.semitones + tuning + float(rng.normal(0, 0.05))
        before = score.pitches[k - 1] + tuning if k else None
        slurred = score.slurred[k] and bool(sung)
        attack = float(score.attacks[k])
        sung.append(_Sung(attack, pitch, slip, slurred, before, float(ends[k])))
        if slip.extra_share and not (k + 1 < len(score.slurred) and score.slurred[k + 1]):
            at = attack + slip.extra_share * (float(ends[k]) - attack)
            sung[-1].due_end = at
            extras.append(at)
            sung.append(_Sung(at, pitch, Slip(), False, None, float(ends[k])))
    afters = [*sung[1:], None]
    parts = []
    fade = 0
    for note, after in zip(sung, afters, strict=True):
        part = _part(rng, note, after, score.interval_s, fade)
        fade = part.fade_out
        parts.append(part)
    return parts, tuple(extras)


def _part(
    rng: np.random.Generator, note: _Sung, after: _Sung | None, interval_s: float, fade_in: int
) -> Part:
    end = after.attack if after is not None else note.due_end
    if after is not None and not after.slurred and not note.held:
        end = min(end, note.due_end)
    span = end - note.attack
    fade_out, gap, fall, joined = 0, 0.0, 0.05, False
    if after is not None and after.slurred:
        fade_out = 2 * round(rng.uniform(0.010, min(0.03, max(0.012, 0.35 * span))) * RATE / 2)
    else:
        gap, fall, joined = _gap(rng, span)
    level = LEVEL * 10 ** ((DB_PER_SEMITONE * (note.pitch - 57) + rng.normal(0, LEVEL_SD_DB)) / 20)
    stop = max(note.attack + 0.3 * span, end - gap)
    attack = round(note.attack * RATE)
    return Part(
        attack,
        round(stop * RATE),
        note.pitch,
        level,
        max(1, round(fall * RATE)),
        bool(rng.random() < 0.35) and not joined,
        bool(rng.random() < 0.5 and interval_s >= 0.15 and gap >= 0.04),
        note.slurred,
        fade_in if note.slurred else 0,
        fade_out,
        _first(note),
        _last(note, after, attack),
        note.slip.quiet_db,
    )


def _gap(rng: np.random.Generator, span: float) -> tuple[float, float, bool]:
    """(gap, time of the fall by 30 dB, whether the two notes join) in seconds."""
    if rng.random() < 0.15:
        return float(rng.uniform(-0.008, 0.006)), float(rng.uniform(0.02, 0.06)), True
    if span > 0.25:
        gap = float(rng.uniform(0.03, 0.1))
    else:
        gap = max(float(rng.uniform(0.010, 0.035)), span * float(rng.uniform(0.15, 0.4)))
    gap = min(gap, 0.5 * span)
    return gap, gap * float(rng.uniform(0.6, 2.2)), False


def _first(note: _Sung) -> tuple[float | None, int] | None:
    slip = note.slip
    if slip.kind == "split":
        start = None if slip.split_semitones is None else note.pitch + slip.split_semitones
        return start, round(slip.split_s * RATE)
    if slip.lag_s is not None and slip.lag_s > 0 and note.before is not None:
        return note.before, round(slip.lag_s * RATE)
    return None


def _last(note: _Sung, after: _Sung | None, attack: int) -> tuple[float, int] | None:
    if after is None or after.slip.lag_s is None or after.slip.lag_s >= 0:
        return None
    at = round((after.attack + after.slip.lag_s) * RATE) - attack
    return after.pitch, max(1, at)


def truth_of(score: Score) -> list[Truth]:
    """What was played for each note, before its time is judged."""
    made = []
    for k, slip in enumerate(score.slips):
        missed = slip.kind == "missed"
        moves = k > 0 and score.pitches[k] != score.pitches[k - 1] and not score.slurred[k]
        lag_ms = None if slip.lag_s is None else 1000 * slip.lag_s
        # Whoever moves late for 20 ms or more has, by the rules, split the note as well.
        also = ("split",) if lag_ms is not None and lag_ms >= SPLIT_MS - 5 else ()
        made.append(
            Truth(
                k,
                None if missed else round(float(score.attacks[k]) * RATE) / RATE,
                score.pitches[k] + round(slip.semitones),
                slip.kind if slip.kind not in ("", "early", "late") else "clean",
                score.slurred[k],
                lag_ms if lag_ms is not None or not moves or missed else 0.0,
                1000 * slip.split_s,
                also=also,
            )
        )
    return made
