"""Which sounds go when there are too many: the oldest first, those worth most last."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class KeptSound:
    """The sound of one take: its size, and what the book says of the take.

    `uid` names the take, `drill` its passage; a greater `order` was played later.
    """

    uid: str
    size_bytes: int
    drill: str
    order: int
    tempo_bpm: float
    accuracy: float
    passed: bool


def standing(
    tempo_bpm: float, accuracy: float, order: int, *, passed: bool
) -> tuple[bool, float, float, int]:
    """The greater, the better the take: the highest tempo passed; where none was passed, the
    highest accuracy; of equals the later one."""
    first, second = (tempo_bpm, accuracy) if passed else (accuracy, tempo_bpm)
    return passed, first, second, order


def to_drop(sounds: Sequence[KeptSound], budget_bytes: int) -> list[str]:
    """The uids to drop, in this order, so that the rest holds within the budget.

    The oldest go first; the last and the best take of each drill only when nothing else is left.
    """
    over = sum(sound.size_bytes for sound in sounds) - budget_bytes
    spared = _spared(sounds)
    dropped = []
    for sound in sorted(sounds, key=lambda one: (one.uid in spared, one.order)):
        if over <= 0:
            break
        over -= sound.size_bytes
        dropped.append(sound.uid)
    return dropped


def _spared(sounds: Iterable[KeptSound]) -> set[str]:
    """The last and the best of each drill."""
    last: dict[str, KeptSound] = {}
    best: dict[str, KeptSound] = {}
    for sound in sounds:
        name = sound.drill
        if name not in last or sound.order > last[name].order:
            last[name] = sound
        if name not in best or _worth(sound) > _worth(best[name]):
            best[name] = sound
    return {sound.uid for kept in (last, best) for sound in kept.values()}


def _worth(sound: KeptSound) -> tuple[bool, float, float, int]:
    return standing(sound.tempo_bpm, sound.accuracy, sound.order, passed=sound.passed)
