"""From a due note and its attack to a verdict, given what is known of the whole take.

`Context` holds what is measured over all matched notes: the player's offset against the click, the
tuning, the levels.  While the take runs it is measured over the notes so far; at the end over all.
The same functions serve both.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from coach.core.rules import Rules, tolerance_frames
from coach.core.take import Match, Verdict

NEIGHBOURS = 4
SHORTEST_TUNING_SAMPLE = 3
# What the ear was taught to call muffled: rules that forgive more do not ask it.
MUFFLED_AT_DB = 12.0
# Told only where the place and the pitch are surer than for the rest: who played right is hurt most
# by being told these.
BLAMED = ("early", "late", "wrong")


@dataclass(frozen=True, slots=True)
class Context:
    """What the take as a whole says; offsets in frames, tuning in cents, level in dB."""

    offset_frames: float = 0.0
    applied_offset_frames: float = 0.0
    tuning_cents: float = 0.0
    median_level_db: float | None = None


def intervals_frames(frames: Sequence[int], lengths: Sequence[int]) -> list[int]:
    """For each due note the interval to its nearer neighbour (its own length if it has none)."""
    gaps = [b - a for a, b in itertools.pairwise(frames)]
    if not gaps:
        return list(lengths)
    inner = [min(a, b) for a, b in itertools.pairwise(gaps)]
    return [gaps[0], *inner, gaps[-1]]


def context_of(
    matches: Sequence[Match], rules: Rules, rate: int, prior_frames: Sequence[float] = ()
) -> Context:
    """Measure the take.  `prior_frames` are offsets known beforehand (from the take before)."""
    tuning = _tuning_cents(matches, rules)
    right = [m for m in matches if _on_pitch(m, rules, tuning)]
    deviations = [m.attack.frame - m.due.frame for m in right if m.attack]
    everything = [*prior_frames, *deviations]
    offset = float(median(everything)) if everything else 0.0
    limit = rules.offset_limit_ms * rate / 1000
    levels = [m.attack.level_db for m in matches if m.attack and m.attack.level_db is not None]
    return Context(
        offset,
        max(-limit, min(limit, offset)),
        tuning,
        median(levels) if levels else None,
    )


def _tuning_cents(matches: Sequence[Match], rules: Rules) -> float:
    """The player's own tuning against A = 440 Hz: the median over notes whose cents are good."""
    off = [
        100 * (m.attack.pitch - m.due.pitch)
        for m in matches
        if m.attack and m.attack.fine and m.attack.pitch is not None
    ]
    near = [cents for cents in off if abs(cents) <= 2 * rules.pitch_cents]
    return float(median(near)) if len(near) >= SHORTEST_TUNING_SAMPLE else 0.0


def _on_pitch(match: Match, rules: Rules, tuning_cents: float) -> bool:
    if match.attack is None or match.lost:
        return False
    if match.attack.pitch is None:
        return True
    off = 100 * (match.attack.pitch - match.due.pitch) - tuning_cents
    return abs(off) <= rules.pitch_cents


def verdict_of(
    place: int,
    matches: Sequence[Match],
    interval_frames: int,
    context: Context,
    rules: Rules,
    rate: int,
) -> Verdict:
    """The verdict on `matches[place]`: the first kind of `take.VERDICTS` that applies."""
    match = matches[place]
    attack = match.attack
    if attack is None:
        kind = "unsure" if match.lost else "missed"
        return Verdict(match.due.index, kind, match.due, None)
    claim = _claim(place, matches, interval_frames, context, rules, rate)
    kind = _told(claim, match, rules)
    settled = None if attack.pitch is None else attack.pitch - context.tuning_cents / 100
    midi = None if settled is None else round(settled)
    return Verdict(
        match.due.index,
        kind,
        match.due,
        attack,
        attack.frame - match.due.frame - context.applied_offset_frames,
        midi,
        100 * (settled - midi)
        if attack.fine and settled is not None and midi is not None
        else None,
        _relative(attack.level_db, context.median_level_db),
        attack.confidence,
    )


def _told(claim: str, match: Match, rules: Rules) -> str:
    """The claim, or "unsure" where the sound was lost or the ear is not sure enough of it."""
    assert match.attack is not None
    sure = match.attack.confidence
    doubtful = claim in BLAMED and sure < rules.blame_above
    return "unsure" if match.lost or doubtful or sure < rules.unsure_below else claim


def _claim(
    place: int,
    matches: Sequence[Match],
    interval_frames: int,
    context: Context,
    rules: Rules,
    rate: int,
) -> str:
    """What the measurements say, however sure they are."""
    match = matches[place]
    attack = match.attack
    assert attack is not None
    if not _on_pitch(match, rules, context.tuning_cents):
        return "wrong"
    if attack.settle_frames >= rules.split_ms * rate / 1000:
        return "split"
    if _is_muffled(place, matches, rules):
        return "muffled"
    deviation = attack.frame - match.due.frame - context.applied_offset_frames
    if abs(deviation) <= tolerance_frames(rules, interval_frames, rate):
        return "clean"
    return "early" if deviation < 0 else "late"


def _is_muffled(place: int, matches: Sequence[Match], rules: Rules) -> bool:
    """Far under its neighbours, a higher neighbour being expected to sound louder; or weak by the
    ear's closer look, which means MUFFLED_AT_DB."""
    here = matches[place]
    if here.attack is None or here.attack.level_db is None:
        return False
    if here.attack.muffled is not None and rules.muffled_db <= MUFFLED_AT_DB:
        return here.attack.muffled >= rules.muffled_chance
    around = [*matches[max(0, place - NEIGHBOURS) : place], *matches[place + 1 :][:NEIGHBOURS]]
    expected = [
        m.attack.level_db + rules.register_db_per_semitone * (here.due.pitch - m.due.pitch)
        for m in around
        if m.attack and m.attack.level_db is not None
    ]
    return len(expected) >= 2 and here.attack.level_db <= median(expected) - rules.muffled_db


def _relative(level_db: float | None, reference_db: float | None) -> float | None:
    return None if level_db is None or reference_db is None else level_db - reference_db
