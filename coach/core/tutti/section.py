"""Several players on one axis: how closely they attack together, who leads, how chords balance.

Who leads: each attack is taken as the player's own habit and something of that beat that all share.
The habits are the least-squares ones, adding up to 0, over all beats on which two or more attack;
with everybody on every beat that is the mean distance from the section's middle.  The 90 %
intervals come from the spread over the beats (the cluster-robust variance, one cluster a beat:
Liang and Zeger 1986, Biometrika 73:13), the beats cut to those that count as independent
(`core/tutti/slopes`).

Levels come from one microphone a player and can't be compared as they are: each is taken against
the player's own median.  That tells which notes stand out of their chord or drown in it against how
this player plays otherwise, not who is too loud all through.  With `one_scale` (one calibrated
microphone, or MIDI velocities of like instruments) they are compared as they are, and who is loud
all through is told too.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from statistics import fmean, median
from typing import Any

from coach.core.report import Report
from coach.core.timeline import Plan
from coach.core.tutti.effects import Effect, effects
from coach.core.tutti.heard import HeardAmong, heard_notes
from coach.core.tutti.plain import plain_of

TOLD_BEYOND_MS = 5.0
# Players on fewer common beats are not told of.
FEWEST_MEETINGS = 8
STANDS_OUT_DB = 6.0


@dataclass(frozen=True, slots=True)
class SectionPlayer:
    """One player of the section: a name, the take's report, and the plan it was played to."""

    name: str
    report: Report
    plan: Plan


@dataclass(frozen=True, slots=True)
class Meeting:
    """A beat on which two or more attack.  `players` are numbers in the section, `off_ms` their
    attacks against the tempo map, `spread_ms` the last less the first; `balance_db` the level of
    each less the mean of all, as said above (None where one has no level)."""

    beats: Fraction
    bar: int
    players: tuple[int, ...]
    off_ms: tuple[float, ...]
    spread_ms: float
    balance_db: tuple[float, ...] | None


@dataclass(frozen=True, slots=True)
class Lead:
    """A player against the section's middle: `late_ms` (below 0: leads) with its 90 % interval.
    `told`: all of it lies beyond 5 ms.  `loud_db`, over the chords, only where all levels are on
    one scale."""

    name: str
    late_ms: float
    low_ms: float
    high_ms: float
    meetings: int
    told: bool
    loud_db: float | None


@dataclass(frozen=True, slots=True)
class Section:
    """`accuracies` are shares of clean notes; `spread_ms` is the median over the meetings,
    `together_ms` what is left of it when the habits of all are taken off; `unplaced` are the
    players with too few common beats."""

    players: tuple[str, ...]
    accuracies: tuple[float, ...]
    meetings: tuple[Meeting, ...]
    standings: tuple[Lead, ...]
    unplaced: tuple[str, ...]
    spread_ms: float | None
    together_ms: float | None
    one_scale: bool

    def standing_out(self) -> tuple[tuple[Meeting, int, float], ...]:
        """(meeting, player, dB) of notes that lie 6 dB or more out of their chord."""
        return tuple(
            (meeting, player, level)
            for meeting in self.meetings
            if meeting.balance_db is not None
            for player, level in zip(meeting.players, meeting.balance_db, strict=True)
            if abs(level) >= STANDS_OUT_DB
        )

    def to_dict(self) -> dict[str, Any]:
        """Plain data: milliseconds, decibels, beats as numbers."""
        return plain_of(self)


def section_of(parts: Sequence[SectionPlayer], *, one_scale: bool = False) -> Section:
    """Players whose plans lie on one axis of frames and beats."""
    heard = [heard_notes(part.report, part.plan) for part in parts]
    levels = [_levels(notes, one_scale=one_scale) for notes in heard]
    by_beat: dict[Fraction, dict[int, HeardAmong]] = {}
    for player, notes in enumerate(heard):
        for note in notes:
            by_beat.setdefault(note.beats, {})[player] = note
    meetings = [
        _meeting(beats, notes, levels) for beats, notes in sorted(by_beat.items()) if len(notes) > 1
    ]
    habits = effects(
        [dict(zip(m.players, m.off_ms, strict=True)) for m in meetings], FEWEST_MEETINGS
    )
    names = tuple(part.name for part in parts)
    return Section(
        names,
        tuple(part.report.accuracy for part in parts),
        tuple(meetings),
        tuple(_standing(names[k], k, e, meetings, one_scale) for k, e in habits.items()),
        tuple(name for k, name in enumerate(names) if k not in habits),
        median(m.spread_ms for m in meetings) if meetings else None,
        _together(meetings, habits),
        one_scale,
    )


def _levels(notes: Sequence[HeardAmong], *, one_scale: bool) -> dict[Fraction, float]:
    levels = {n.beats: n.attack.level_db for n in notes if n.attack.level_db is not None}
    usual = 0.0 if one_scale or not levels else median(levels.values())
    return {beats: level - usual for beats, level in levels.items()}


def _meeting(
    beats: Fraction, notes: dict[int, HeardAmong], levels: Sequence[dict[Fraction, float]]
) -> Meeting:
    players = tuple(notes)
    offs = tuple(note.off_ms for note in notes.values())
    known = [levels[k][beats] for k in players if beats in levels[k]]
    balance = None
    if len(known) == len(players):
        balance = tuple(level - fmean(known) for level in known)
    bar = next(iter(notes.values())).bar
    return Meeting(beats, bar, players, offs, max(offs) - min(offs), balance)


def _standing(
    name: str, player: int, habit: Effect, meetings: Sequence[Meeting], one_scale: bool
) -> Lead:
    told = habit.low > TOLD_BEYOND_MS or habit.high < -TOLD_BEYOND_MS
    loud = [
        m.balance_db[m.players.index(player)]
        for m in meetings
        if m.balance_db is not None and player in m.players
    ]
    return Lead(
        name,
        habit.value,
        habit.low,
        habit.high,
        habit.count,
        told,
        fmean(loud) if one_scale and loud else None,
    )


def _together(meetings: Sequence[Meeting], habits: dict[int, Effect]) -> float | None:
    """The median spread when nobody leads."""
    spreads = []
    for meeting in meetings:
        if all(player in habits for player in meeting.players):
            left = [
                off - habits[player].value
                for player, off in zip(meeting.players, meeting.off_ms, strict=True)
            ]
            spreads.append(max(left) - min(left))
    return median(spreads) if spreads else None
