"""Written names for the notes of a passage: F# or Gb?

The names are places on the line of fifths (... Bb F C G D A E B F# ...), chosen together for the
whole passage so that the sum of what speaks against them is least (a Viterbi search).  The terms
follow the preference rules of D. Temperley, The Cognition of Basic Musical Structures (MIT Press
2001), chapter 5: names near to each other on the line, and near the key; a chromatic note that
moves on by a semitone has another letter than the note it moves to (F# to G, Gb to F).  The key is
the one that the notes around suggest: the scale that holds most of them, of equals the one nearest
to the signature.  The figures are our own, measured on printed horn, trumpet and trombone parts
(`python -m tests.benchmarks.spelling`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from coach.core.passage import Passage
from coach.core.pitch import Spelled, written_of_sounding

LETTERS = "FCGDAEB"
# On the line of fifths C is 0; a key of n fifths has the places n-1 (its fourth degree) to n+5.
FIRST, LAST = -15, 19
FARTHEST = 10
MOST_FIFTHS = 7
TRITONE, SAME_LETTER = 6, 7
# What speaks against a name.
OUTSIDE = 1.0  # for each fifth that it lies outside the scale of the key around
OUTSIDE_SIGNED = 0.15  # the same for the key of the signature
LOWERED = 0.1  # a lowered note where a raised one is as near
WIDE = 0.25  # for each fifth beyond a tritone between notes that follow each other
UNRESOLVED = 4.0  # a chromatic note that moves on by a semitone under its own letter
IN_A_RUN = 4.0  # as much again in a run of semitones: up with sharps, down with flats
APPROACH = 1.0  # a chromatic note that came by a semitone under the letter before
# The key around: of so many notes before and after, each counting less the farther it is away.
AROUND_NOTES = 32
LEAVING = 0.3  # for each fifth between it and the signature, as so many notes outside its scale


def spelled(passage: Passage, transposition: int) -> tuple[Spelled, ...]:
    """The written name of every note, in the written key of the passage.

    Written pitch is sounding - `transposition`.  No name has more than a double accidental."""
    written = [written_of_sounding(note.pitch, transposition) for note in passage.notes]
    places = _best(written, passage.fifths)
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


def keys_around(written: Sequence[int], fifths: int) -> list[int]:
    """For each note the key (sharps, or minus flats) of the notes around it."""
    keys = range(max(fifths - 6, -MOST_FIFTHS), min(fifths + 6, MOST_FIFTHS) + 1) or [fifths]
    # Of equals the one nearest to the signature.
    nearest = sorted(keys, key=lambda key: abs(key - fifths))
    found = []
    for at in range(len(written)):
        heard = _heard(written, at)
        costs = {key: _misses(heard, key) + LEAVING * abs(key - fifths) for key in nearest}
        found.append(min(costs, key=lambda key: costs[key]))
    return found


def _heard(written: Sequence[int], at: int) -> list[float]:
    """How much each of the twelve pitches weighs around a note."""
    heard = [0.0] * 12
    for place in range(max(0, at - AROUND_NOTES), min(len(written), at + AROUND_NOTES + 1)):
        heard[written[place] % 12] += 1 + (1 - abs(place - at)) / AROUND_NOTES
    return heard


def _misses(heard: Sequence[float], key: int) -> float:
    return sum(heard) - sum(heard[7 * place % 12] for place in range(key - 1, key + 6))


def _best(written: Sequence[int], fifths: int) -> list[int]:
    """The cheapest row of places, found forwards, read off backwards."""
    ways: dict[int, float] = {}
    back: list[dict[int, int]] = []
    keys = keys_around(written, fifths)
    for at, midi in enumerate(written):
        now: dict[int, float] = {}
        came: dict[int, int] = {}
        semitones = _semitones(written, at)
        for place in candidates(midi, fifths):
            costs = {b: c + _move(b, place, semitones, keys[at]) for b, c in ways.items()}
            came[place] = min(costs, key=lambda p: costs[p], default=place)
            now[place] = costs.get(came[place], 0.0) + _alone(place, keys[at], fifths)
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


def _alone(place: int, key: int, fifths: int) -> float:
    """What speaks against a name whatever stands beside it."""
    outside = _outside(place, key)
    cost = OUTSIDE * abs(outside) + OUTSIDE_SIGNED * abs(_outside(place, fifths))
    return cost + (LOWERED if outside < 0 else 0.0)


def _outside(place: int, key: int) -> int:
    """Fifths beyond the sharp end of the scale of the key (minus: the flat end), 0 inside."""
    return max(0, place - (key + 5)) - max(0, key - 1 - place)


def _semitones(written: Sequence[int], at: int) -> int:
    """How many semitone steps in one direction lead up to a note, at most two."""
    if at < 1 or abs(written[at] - written[at - 1]) != 1:
        return 0
    runs = at > 1 and written[at] - written[at - 1] == written[at - 1] - written[at - 2]
    return 2 if runs else 1


def _move(before: int, place: int, semitones: int, key: int) -> float:
    """What speaks against two names in a row, `semitones` as by `_semitones`."""
    distance = abs(place - before)
    cost = WIDE * max(0, distance - TRITONE)
    if semitones and distance == SAME_LETTER:
        if not _outside(before, key):
            return cost + APPROACH
        return cost + UNRESOLVED + (IN_A_RUN if semitones > 1 else 0.0)
    return cost
