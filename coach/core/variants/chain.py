"""Generators by name, one after the other: what each makes of every passage goes to the next."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from coach.core.passage import Passage
from coach.core.variants.fingers import exchanges, slur_then_tongue
from coach.core.variants.fragments import add_a_note, bursts, slow_and_fragments, windows
from coach.core.variants.others import accents, air_first, keys, mouthpiece_first
from coach.core.variants.rhythm import rhythms
from coach.core.variants.tongue import tonguing

Generator = Callable[..., tuple[Passage, ...]]
STEPS: dict[str, Generator] = {
    "accents": accents,
    "add-a-note": add_a_note,
    "air-first": air_first,
    "bursts": bursts,
    "exchanges": exchanges,
    "keys": keys,
    "mouthpiece-first": mouthpiece_first,
    "rhythms": rhythms,
    "slow-and-fragments": slow_and_fragments,
    "slur-then-tongue": slur_then_tongue,
    "tonguing": tonguing,
    "windows": windows,
}
# What `vary` knows itself.
_OWN = ("lowest", "highest")


@dataclass(frozen=True, slots=True)
class Step:
    """A generator of `STEPS` and its options."""

    make: str
    options: Mapping[str, Any] = field(default_factory=dict)


def options_of(make: str) -> dict[str, Any]:
    """The options of a generator with their defaults; ValueError if there is no such generator."""
    if make not in STEPS:
        raise ValueError(f"there is no {make}; there are {', '.join(STEPS)}")
    parameters = list(inspect.signature(STEPS[make]).parameters.values())[1:]
    return {p.name: p.default for p in parameters if p.name not in _OWN}


def vary(
    passages: Sequence[Passage],
    steps: Sequence[Step],
    *,
    lowest: int | None = None,
    highest: int | None = None,
) -> tuple[Passage, ...]:
    """All steps applied in order, every passage to all its variants, nothing outside `lowest` to
    `highest` (in the passages' own pitches).  ValueError says what is wrong with a step."""
    made = tuple(passages)
    for step in steps:
        known = options_of(step.make)
        for name in step.options:
            if name not in known:
                has = f"it has {', '.join(known)}" if known else "it has none"
                raise ValueError(f"{step.make} has no option {name}; {has}")
        bounds = {"lowest": lowest, "highest": highest} if step.make == "keys" else {}
        made = tuple(v for p in made for v in STEPS[step.make](p, **step.options, **bounds))
    if not made:
        raise ValueError("nothing is left to play")
    return made
