"""Written names for the notes of a passage: F# or Gb?

The names are places on the line of fifths (... Bb F C G D A E B F# ...), chosen together for the
whole passage so that the sum of what speaks against them is least (a Viterbi search).  The terms
follow the preference rules of D. Temperley, The Cognition of Basic Musical Structures (MIT Press
2001), chapter 5: names near to each other on the line, and near the key; a chromatic note that
moves on by a semitone has another letter than the note it moves to (F# to G, Gb to F).  The figures
are our own, measured on printed horn, trumpet and trombone parts
(`python -m tests.benchmarks.spelling`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from coach.core.passage import Note, Passage
from coach.core.pitch import Spelled, written_of_sounding

LETTERS = "FCGDAEB"
# On the line of fifths C is 0; a key of n fifths has the places n-1 (its fourth degree) to n+5.
FIRST, LAST = -15, 19
FARTHEST = 10
SEMITONE_SAME_LETTER = 7
# What speaks against a name.
OUTSIDE = 1.0  # for each fifth that it lies outside the scale of the key
SHARPS_FIRST = 0.1  # a lowered note where a raised one is as near
WIDE = 0.25  # for each fifth beyond a tritone between notes that follow each other
UNRESOLVED = 3.0  # a chromatic note that moves on by a semitone under its own letter
APPROACH = 1.0  # a chromatic note that came by a semitone under the letter before
CHANGED = 2.0  # another name than the last time that this pitch was heard
RECALL_BEATS = Fraction(4)


def spelled(passage: Passage, transposition: int) -> tuple[Spelled, ...]:
    """The written name of every note, in the written key of the passage.

    Written pitch is sounding - `transposition`.  No name has more than a double accidental."""
    written = [written_of_sounding(note.pitch, transposition) for note in passage.notes]
    places = _best(written, passage.notes, passage.fifths)
    return tuple(name_at(place, midi) for place, midi in zip(places, written, strict=True))


def name_at(place: int, midi: int) -> Spelled:
    """The name at a place of the line of fifths (C is 0), in the octave of `midi`."""
    alter, letter = divmod(place + 1, 7)
    base = Spelled(LETTERS[letter], alter, 0).midi
    return Spelled(LETTERS[letter], alter, (midi - base) // 12)


def candidates(midi: int, fifths: int) -> tuple[int, ...]:
    """Places on the line of fifths that sound as `midi`, near the key; at least one."""
    centre = max(FIRST + FARTHEST, min(LAST - FARTHEST, fifths + 2))
    near = range(centre - FARTHEST, centre + FARTHEST + 1)
    return tuple(place for place in near if (7 * place - midi) % 12 == 0)


def _best(written: Sequence[int], notes: Sequence[Note], fifths: int) -> list[int]:
    """The cheapest row of places, found forwards, read off backwards."""
    ways: dict[int, float] = {}
    back: list[dict[int, int]] = []
    for at, midi in enumerate(written):
        now: dict[int, float] = {}
        came: dict[int, int] = {}
        for place in candidates(midi, fifths):
            costs = {b: c + _move(b, place, at, written, fifths) for b, c in ways.items()}
            came[place] = min(costs, key=lambda p: costs[p], default=place)
            now[place] = costs.get(came[place], 0.0) + _alone(place, fifths)
        ways = now
        back.append(came)
    return list(reversed(list(_traced(ways, back))))


def _traced(ways: dict[int, float], back: list[dict[int, int]]) -> Iterator[int]:
    if not ways:
        return
    place = min(ways, key=lambda p: ways[p])
    for came in reversed(back):
        yield place
        place = came[place]


def _alone(place: int, fifths: int) -> float:
    """How far outside the scale of the key."""
    above, below = place - (fifths + 5), (fifths - 1) - place
    return OUTSIDE * max(above, below, 0) + (SHARPS_FIRST if below > 0 else 0.0)


def _outside(place: int, fifths: int) -> bool:
    return not fifths - 1 <= place <= fifths + 5


def _move(before: int, place: int, at: int, written: Sequence[int], fifths: int) -> float:
    distance = abs(place - before)
    cost = WIDE * max(0, distance - 6)
    if abs(written[at] - written[at - 1]) == 1 and distance == SEMITONE_SAME_LETTER:
        cost += UNRESOLVED if _outside(before, fifths) else APPROACH
    return cost
