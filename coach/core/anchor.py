"""Finding where free playing starts, and its tempo, from the attacks that were heard."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, replace

from coach.core.take import Attack
from coach.core.timeline import Due

SLOWEST, FASTEST = 0.7, 1.4
REACH_S = 0.05


@dataclass(frozen=True, slots=True)
class Fit:
    """Due frame f of the list is played at `start_frame` + f / `tempo_ratio`."""

    start_frame: int
    tempo_ratio: float


def moved(dues: Sequence[Due], fit: Fit) -> tuple[Due, ...]:
    """The dues where the player put them."""
    return tuple(
        replace(
            due,
            frame=fit.start_frame + round(due.frame / fit.tempo_ratio),
            length_frames=max(1, round(due.length_frames / fit.tempo_ratio)),
        )
        for due in dues
    )


def find_start(dues: Sequence[Due], attacks: Sequence[Attack], rate: int) -> Fit:
    """The start and tempo (0.7 to 1.4 of the written) that explain most attacks.

    Every pair (due, attack of its pitch) and (another due, another attack) fixes a line; the line
    near which most dues find an attack of their pitch wins, then least squares over those.
    """
    attacks = sorted(attacks, key=lambda a: a.frame)
    pairs = _pairs(dues, attacks)
    best, best_score = Fit(0, 1.0), -1.0
    anchors = [p for p in pairs if p[0].index < max(4, len(dues) // 4)]
    others = [p for p in pairs if p[0].index >= len(dues) // 2]
    for due_a, attack_a in anchors[:60]:
        for due_b, attack_b in others[-120:]:
            fit = _line(due_a, attack_a, due_b, attack_b)
            if fit is not None:
                score = _score(fit, dues, attacks, rate)
                if score > best_score:
                    best, best_score = fit, score
    if best_score < 0 and attacks and dues:
        return Fit(attacks[0].frame - dues[0].frame, 1.0)
    return _refined(best, dues, attacks, rate)


def _pairs(dues: Sequence[Due], attacks: Sequence[Attack]) -> list[tuple[Due, Attack]]:
    return [(d, a) for d in dues for a in attacks if _same_pitch(d, a)]


def _same_pitch(due: Due, attack: Attack) -> bool:
    return attack.pitch is not None and abs(attack.pitch - due.pitch) < 0.8


def _line(due_a: Due, attack_a: Attack, due_b: Due, attack_b: Attack) -> Fit | None:
    span = attack_b.frame - attack_a.frame
    written = due_b.frame - due_a.frame
    if span <= 0 or written <= 0 or not SLOWEST <= written / span <= FASTEST:
        return None
    ratio = written / span
    return Fit(round(attack_a.frame - due_a.frame / ratio), ratio)


def _near(fit: Fit, due: Due, attacks: Sequence[Attack], rate: int) -> Attack | None:
    at = fit.start_frame + due.frame / fit.tempo_ratio
    reach = REACH_S * rate
    low = bisect_left(attacks, at - reach, key=lambda a: a.frame)
    near = []
    for attack in attacks[low:]:
        if attack.frame > at + reach:
            break
        if _same_pitch(due, attack):
            near.append(attack)
    return min(near, key=lambda a: abs(a.frame - at), default=None)


def _score(fit: Fit, dues: Sequence[Due], attacks: Sequence[Attack], rate: int) -> float:
    found = [(d, _near(fit, d, attacks, rate)) for d in dues]
    off = [
        abs(a.frame - fit.start_frame - d.frame / fit.tempo_ratio) / (REACH_S * rate)
        for d, a in found
        if a is not None
    ]
    return len(off) - 0.5 * sum(off) / max(1, len(off))


def _refined(fit: Fit, dues: Sequence[Due], attacks: Sequence[Attack], rate: int) -> Fit:
    """Least squares over the notes found."""
    points = [(d.frame, a.frame) for d in dues if (a := _near(fit, d, attacks, rate))]
    if len(points) < 3:
        return fit
    mean_due = sum(d for d, _ in points) / len(points)
    mean_attack = sum(a for _, a in points) / len(points)
    spread = sum((d - mean_due) ** 2 for d, _ in points)
    slope = sum((d - mean_due) * (a - mean_attack) for d, a in points) / spread
    return Fit(round(mean_attack - slope * mean_due), 1 / slope)
