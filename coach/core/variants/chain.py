"""Generators by name, one after the other: what each makes of every passage goes to the next."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Mapping, Sequence
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
MOST_PASSAGES = 200
MOST_NOTES = 2000
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
    `highest` (in the passages' own pitches).

    ValueError says what is wrong with a step: its name, an option, or that it makes nothing, or
    more than 200 passages, or one of over 2000 notes.
    """
    made = tuple(passages)
    for step in steps:
        _check_options(step)
        bounds = {"lowest": lowest, "highest": highest} if step.make == "keys" else {}
        made = _few_enough(step, (STEPS[step.make](p, **step.options, **bounds) for p in made))
        if not made:
            raise ValueError(f"{step.make} finds nothing to make an exercise of")
    return made


def _few_enough(step: Step, each: Iterable[tuple[Passage, ...]]) -> tuple[Passage, ...]:
    """All in one row; counted as they come, for steps multiply."""
    made: list[Passage] = []
    for variants in each:
        made += variants
        if len(made) > MOST_PASSAGES:
            raise ValueError(f"{step.make} makes over {MOST_PASSAGES} variants of what is there")
        longest = max((len(passage.notes) for passage in variants), default=0)
        if longest > MOST_NOTES:
            raise ValueError(f"{step.make} makes {longest} notes; {MOST_NOTES} fit in one take")
    return tuple(made)


def _check_options(step: Step) -> None:
    known = options_of(step.make)
    for name, value in step.options.items():
        if name not in known:
            has = f"it has {', '.join(known)}" if known else "it has none"
            raise ValueError(f"{step.make} has no option {name}; {has}")
        if not _is_like(value, known[name]):
            like = list(known[name]) if isinstance(known[name], tuple) else known[name]
            raise ValueError(f"{step.make}: {name} is {value!r}; it must be like {like!r}")


def _is_like(value: object, usual: object) -> bool:
    """Whether an option is of the kind of its default."""
    if isinstance(usual, tuple):
        return isinstance(value, (tuple, list)) and all(_is_like(v, usual[0]) for v in value)
    if isinstance(value, bool):
        return False
    return isinstance(value, (int, float) if isinstance(usual, float) else type(usual))
