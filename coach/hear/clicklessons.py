"""Which stretches of sound the click is learned from, and which of them sound alike."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from coach.hear.clickunder import learn_under
from coach.hear.clickwave import (
    EARLY_S,
    SEARCH_S,
    STEP_S,
    ClickWave,
    delay_of,
    learn,
    likeness,
    low_cut,
    shifted,
    step_powers,
)

Floats = NDArray[np.float64]
Waves = Mapping[str, tuple[ClickWave, ...]]

ANY = "any"
SAME = 0.8
QUIET_DB = -15.0
END_S = 0.02


def waves_of(lessons: Mapping[str, Sequence[Floats]], rate: int, before: int) -> Waves:
    """What was learned of each kind, from lessons over which nobody plays.

    A kind that sounded once counts only if some kind that sounded twice was heard, or there is
    none: a single noise is no click.
    """
    groups = {kind: _groups(kind, heard, rate, before) for kind, heard in lessons.items()}
    known = [(k, g, learn(g, rate, before=before)) for k, parts in groups.items() for g in parts]
    twice = [wave for _, group, wave in known if len(group) > 1]
    if twice and not any(twice):
        return {}
    found: dict[str, tuple[ClickWave, ...]] = {}
    for kind, _, wave in known:
        if wave is not None:
            found[kind] = (*found.get(kind, ()), wave)
    return found


def waves_anywhere(lessons: Sequence[tuple[str, Floats]], rate: int, before: int) -> Waves:
    """What was learned of each kind in the course of a take, (kind, lesson) in order of time."""
    by_kind: dict[str, list[Floats]] = {}
    for kind, lesson in lessons:
        by_kind.setdefault(kind, []).append(lesson)
    quiet = {
        kind: [lesson for lesson in heard if is_quiet(lesson, rate, before)]
        for kind, heard in by_kind.items()
    }
    found = dict(waves_of({k: q for k, q in quiet.items() if len(q) > 1}, rate, before))
    for kind, heard in by_kind.items():
        waves = () if kind in found else tuple(learn_under(heard, rate, before=before))
        if waves:
            found[kind] = waves
    return found


def is_quiet(lesson: Floats, rate: int, before: int) -> bool:
    """Whether nothing sounds before the click, nor when it has died away."""
    cut = low_cut(lesson, rate)
    loudest = float(np.max(step_powers(cut[before - round(EARLY_S * rate) :], rate)))
    limit = loudest * 10 ** (QUIET_DB / 10)
    first = cut[: before - round((EARLY_S + STEP_S) * rate)]
    return bool(np.mean(first**2) < limit and np.mean(cut[-round(END_S * rate) :] ** 2) < limit)


def _groups(kind: str, lessons: Sequence[Floats], rate: int, before: int) -> list[list[Floats]]:
    """Lessons that sound alike: all of a named kind, else as the ear finds (an accent differs)."""
    if kind != ANY:
        return [list(lessons)]
    groups: list[list[Floats]] = []
    for lesson in lessons:
        for group in groups:
            if _same(low_cut(lesson, rate), low_cut(group[0], rate), rate, before):
                group.append(lesson)
                break
        else:
            groups.append([lesson])
    return groups


def _same(a: Floats, b: Floats, rate: int, before: int) -> bool:
    delay = delay_of(a[before:], b[before:], round(SEARCH_S * rate))
    return likeness(shifted(a, -delay)[before:], b[before:]) > SAME
