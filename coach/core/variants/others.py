"""Displaced accents, neighbouring keys, and turns with air or mouthpiece alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from coach.core.passage import Passage
from coach.core.patterns.layout import moved
from coach.core.variants.laying import joined_title

# A semitone and a fourth either way.
NEIGHBOURS = (1, -1, 5, -5)
_ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")


def accents(passage: Passage, every: int = 3) -> tuple[Passage, ...]:
    """An accent on every so many notes (2 to 8), beginning on each in turn: where it cuts across
    the beat, no note can hide (common practice, no source)."""
    if not 2 <= every <= len(_ORDINALS):
        raise ValueError(f"accents come every 2 to {len(_ORDINALS)} notes")
    return tuple(_accented(passage, every, first) for first in range(every))


def _accented(passage: Passage, every: int, first: int) -> Passage:
    notes = tuple(replace(n, accent=k % every == first) for k, n in enumerate(passage.notes))
    words = f"accent every {every}, from the {_ORDINALS[first]}"
    return replace(passage, notes=notes, title=joined_title(passage, words))


def keys(
    passage: Passage,
    moves: Sequence[int] = NEIGHBOURS,
    lowest: int | None = None,
    highest: int | None = None,
) -> tuple[Passage, ...]:
    """The passage itself, then moved by so many semitones; what leaves the range from `lowest` to
    `highest` falls out.  Fingerings hold for one place only and are left out of the moved ones."""
    made = [passage]
    for semitones in filter(None, moves):
        other = moved(passage, semitones)
        pitches = [note.pitch for note in other.notes]
        low_enough = highest is None or max(pitches) <= highest
        if low_enough and (lowest is None or min(pitches) >= lowest):
            step = f"{abs(semitones)} semitone{'s' if abs(semitones) != 1 else ''}"
            words = f"{step} {'higher' if semitones > 0 else 'lower'}"
            made.append(replace(other, title=joined_title(passage, words)))
    return tuple(made)


def air_first(passage: Passage) -> tuple[Passage, ...]:
    """Once with air, tongue and valves alone, then played."""
    return _first(passage, "air")


def mouthpiece_first(passage: Passage) -> tuple[Passage, ...]:
    """Once buzzed on the mouthpiece, then played."""
    return _first(passage, "mouthpiece")


def _first(passage: Passage, way: str) -> tuple[Passage, ...]:
    """What is not played has no turn before it."""
    if passage.way != "played":
        return (passage,)
    return replace(passage, way=way, title=joined_title(passage, way)), passage
