"""What a player makes of a plan: when each note starts, on what pitch, with which slips.

Pure and seeded.  The player has a ceiling in notes a second; slips grow with the fourth power of
the ratio of the local note rate to it (the strain), so that a take is nearly clean at half the
ceiling and fails a gate of 90 % a little above it.  That law and the default rates are assumptions
of ours, made to resemble practising, not measurements of a player.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from random import Random

from coach.core.timeline import Due, Plan
from coach.core.verdicts import intervals_frames

STRAIN_POWER = 4.0
LONGEST_GAP_SHARE = 0.4
NEAREST_ATTACKS_MS = 15.0
QUIET_DB = 14.0
# An instrument whose fundamental sounds MIDI 28 stands for all the lengths of tube of a horn.
FUNDAMENTAL_MIDI = 28.0
USUAL_DB, USUAL_MIDI, DB_PER_SEMITONE = -28.3, 57.0, 0.41


@dataclass(frozen=True, slots=True)
class Skill:
    """A player.  Rates are chances a note at the ceiling; times in ms, levels in dB.

    `jitter_ms` is the standard deviation of an attack at the ceiling, `lean_ms` the habitual
    lateness, `drift_ms` the step of a slow wander around it.  `weak_syllable_*` applies to the
    syllables that start with k or g, or to every second tongued note where no syllables are given.
    `tongue_ms` is how long the tongue stops the air before the next note, `lag_ms` the standard
    deviation of fingers against tongue.  `learning` is the growth of the ceiling a take.
    """

    ceiling_notes_s: float = 8.0
    jitter_ms: float = 7.0
    lean_ms: float = 5.0
    miss_rate: float = 0.03
    late_rate: float = 0.03
    wrong_rate: float = 0.04
    split_rate: float = 0.05
    quiet_rate: float = 0.015
    extra_rate: float = 0.01
    weak_syllable_db: float = 2.0
    weak_syllable_late_ms: float = 3.0
    drift_ms: float = 1.0
    tongue_ms: float = 40.0
    lag_ms: float = 5.0
    level_jitter_db: float = 1.0
    learning: float = 0.02


STEADY = Skill(
    ceiling_notes_s=1e6,
    jitter_ms=0.0,
    lean_ms=0.0,
    miss_rate=0.0,
    late_rate=0.0,
    wrong_rate=0.0,
    split_rate=0.0,
    quiet_rate=0.0,
    extra_rate=0.0,
    weak_syllable_db=0.0,
    weak_syllable_late_ms=0.0,
    drift_ms=0.0,
    lag_ms=0.0,
    level_jitter_db=0.0,
    learning=0.0,
)


@dataclass(frozen=True, slots=True)
class Fault:
    """What goes wrong with one note.

    `late_ms` is the whole deviation from the due (None: as the skill has it).  The note settles
    `semitones` off; it starts `split_semitones` off for `split_ms`; it is `quiet_db` too soft; its
    pitch changes `lag_ms` after the tongue (None: as the skill has it).  `extra`: the tongue
    bounces, and the note is struck again half way to the next one.
    """

    missing: bool = False
    late_ms: float | None = None
    semitones: float = 0.0
    split_semitones: float = 0.0
    split_ms: float = 0.0
    quiet_db: float = 0.0
    lag_ms: float | None = None
    extra: bool = False


@dataclass(frozen=True, slots=True)
class PlayedNote:
    """One note as played.

    `frame` is its physical start (slurred: the middle of the change of pitch), `length_frames` the
    time until it begins to die away; `pitch` the sounding, fractional MIDI number; `level_db` its
    RMS against full scale.  It may start on the pitch `split_to` for `split_frames`.  The pitch
    changes `lag_frames` after (negative: before) the tongue.  `due`: index of the due note, None
    for an extra one.
    """

    frame: int
    length_frames: int
    pitch: float
    level_db: float
    slurred: bool = False
    split_to: float | None = None
    split_frames: int = 0
    lag_frames: int = 0
    due: int | None = None

    def __post_init__(self) -> None:
        if self.length_frames <= 0:
            raise ValueError("a played note has no length")

    @property
    def end_frame(self) -> int:
        return self.frame + self.length_frames


def usual_level_db(pitch: float) -> float:
    """RMS level in dB full scale of a mezzo-forte note: a straight line fitted to 218 recorded
    single horn notes (MIDI 34 to 77, residual 3.3 dB)."""
    return USUAL_DB + DB_PER_SEMITONE * (min(82.0, max(29.0, pitch)) - USUAL_MIDI)


def learned(skill: Skill) -> Skill:
    """The player one take later: a higher ceiling, a little steadier."""
    return replace(
        skill,
        ceiling_notes_s=skill.ceiling_notes_s * (1 + skill.learning),
        jitter_ms=skill.jitter_ms / (1 + skill.learning / 2),
    )


def perform(
    plan: Plan, skill: Skill, rng: Random, *, script: Mapping[int, Fault] | None = None
) -> tuple[PlayedNote, ...]:
    """Play `plan`; `script` prescribes what happens to single notes (by index), exactly.

    Notes come in order of time; a prescribed time is kept even where it crosses a neighbour's.
    """
    script = script or {}
    dues = plan.dues
    spans = intervals_frames([d.frame for d in dues], [d.length_frames for d in dues])
    strains = [plan.rate / max(1, span) / skill.ceiling_notes_s for span in spans]
    chance = [_slip(due, strain, skill, rng) for due, strain in zip(dues, strains, strict=True)]
    faults = [script.get(k, fault) for k, fault in enumerate(chance)]
    weak = _weak(dues)
    frames = _frames(plan, spans, strains, faults, weak, skill, rng)
    notes: list[PlayedNote] = []
    for k, due in enumerate(dues):
        lag_ms = _lag_ms(k, dues, strains[k], skill, rng)
        level = usual_level_db(due.pitch) + rng.gauss(0.0, skill.level_jitter_db)
        level -= skill.weak_syllable_db * min(1.0, strains[k]) * weak[k]
        if not faults[k].missing:
            note = _note(due, frames[k], level, lag_ms, faults[k], plan.rate)
            notes += [note, _extra(note, spans[k])] if faults[k].extra else [note]
    notes.sort(key=lambda note: note.frame)
    return tuple(_with_lengths(notes, plan.rate, skill, rng))


def _slip(due: Due, strain: float, skill: Skill, rng: Random) -> Fault:
    """At most one slip a note, drawn with the same number of random numbers every time."""
    chance, side, slide = rng.random(), rng.choice((-1, 1)), rng.uniform(25.0, 60.0)
    scale = min(8.0, strain**STRAIN_POWER)
    off = partial_step(due.pitch, side)
    valve = rng.choice((off, off, -1.0, 1.0, -2.0))
    slips = (
        (skill.miss_rate, Fault(missing=True)),
        (skill.late_rate, Fault(late_ms=skill.lean_ms + slide)),
        (skill.wrong_rate, Fault(semitones=valve)),
        (skill.split_rate, Fault(split_semitones=off, split_ms=slide)),
        (skill.quiet_rate, Fault(quiet_db=QUIET_DB)),
        (skill.extra_rate, Fault(extra=True)),
    )
    for rate, fault in slips:
        chance -= rate * scale
        if chance < 0:
            return fault
    return Fault()


def partial_step(pitch: float, side: int) -> float:
    """Semitones from `pitch`, taken as a partial n of the tube, to its neighbour n + `side`:
    12 log2((n + side) / n), 386 cents at the 4th partial and 105 at the 16th."""
    partial = max(2, round(2 ** ((pitch - FUNDAMENTAL_MIDI) / 12)))
    return 12 * math.log2((partial + side) / partial)


def _weak(dues: Sequence[Due]) -> list[bool]:
    """Which notes fall on the weak syllable: k or g, else every second tongued one in a row."""
    weak, place = [], 0
    for due in dues:
        place = 0 if due.slurred else place + 1
        if due.syllable:
            weak.append(due.syllable[0].lower() in "kg")
        else:
            weak.append(place > 0 and place % 2 == 0)
    return weak


def _frames(
    plan: Plan,
    spans: Sequence[int],
    strains: Sequence[float],
    faults: Sequence[Fault],
    weak: Sequence[bool],
    skill: Skill,
    rng: Random,
) -> list[int]:
    """Start frames.  Jitter keeps to 2.5 standard deviations and 0.4 of the interval, and no free
    note comes before its predecessor has started."""
    per_ms, drift_ms, last = plan.rate / 1000, 0.0, -math.inf
    frames = []
    for due, span, strain, fault, is_weak in zip(
        plan.dues, spans, strains, faults, weak, strict=True
    ):
        drift_ms = 0.92 * drift_ms + rng.gauss(0.0, skill.drift_ms)
        sd = skill.jitter_ms * (0.7 + 0.3 * min(2.0, strain) ** 2)
        jitter = max(-2.5, min(2.5, rng.gauss(0.0, 1.0))) * sd
        jitter += skill.weak_syllable_late_ms * min(1.0, strain) * is_weak
        off = max(-LONGEST_GAP_SHARE * span, min(LONGEST_GAP_SHARE * span, jitter * per_ms))
        at = due.frame + (skill.lean_ms + drift_ms) * per_ms + off
        if fault.late_ms is not None:
            at = due.frame + fault.late_ms * per_ms
        else:
            at = max(at, last + NEAREST_ATTACKS_MS * per_ms)
        frames.append(round(at))
        last = last if fault.missing else at
    return frames


def _lag_ms(place: int, dues: Sequence[Due], strain: float, skill: Skill, rng: Random) -> float:
    """Fingers against tongue; none for the first note, a slur or a repeated pitch."""
    lag = rng.gauss(0.0, skill.lag_ms) * min(2.0, 0.5 + 0.5 * strain)
    due = dues[place]
    moves = place > 0 and not due.slurred and dues[place - 1].pitch != due.pitch
    return lag if moves else 0.0


def _note(due: Due, frame: int, level: float, lag_ms: float, fault: Fault, rate: int) -> PlayedNote:
    per_ms = rate / 1000
    pitch = due.pitch + fault.semitones
    lag_ms = lag_ms if fault.lag_ms is None else fault.lag_ms
    return PlayedNote(
        frame,
        due.length_frames,
        pitch,
        level - fault.quiet_db,
        due.slurred,
        pitch + fault.split_semitones if fault.split_ms else None,
        round(fault.split_ms * per_ms),
        round(lag_ms * per_ms),
        due.index,
    )


def _extra(note: PlayedNote, span: int) -> PlayedNote:
    """The tongue bounces: the same note again, half way to the next."""
    half = max(1, note.length_frames // 2)
    return PlayedNote(note.frame + span // 2, half, note.pitch, note.level_db - 3.0)


def _with_lengths(
    notes: Sequence[PlayedNote], rate: int, skill: Skill, rng: Random
) -> list[PlayedNote]:
    """Let each note end where the next begins (slurred) or a tongue's contact before it."""
    made = []
    for k, note in enumerate(notes):
        gap = skill.tongue_ms * rng.uniform(0.8, 1.6) * rate / 1000
        length = float(note.length_frames)
        if k + 1 < len(notes):
            span = notes[k + 1].frame - note.frame
            joined = notes[k + 1].slurred and span <= 1.5 * note.length_frames
            free = span if notes[k + 1].slurred else span - min(gap, LONGEST_GAP_SHARE * span)
            length = span if joined else min(length, free)
        made.append(replace(note, length_frames=max(1, round(length))))
    return made
