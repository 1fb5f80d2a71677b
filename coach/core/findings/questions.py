"""Which questions are asked of the takes: each is a group of notes that may go wrong more often."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace

from coach.core.findings.facts import LEAP_SEMITONES, Material, Spot, Surroundings
from coach.core.fingering.moves import FingerMove

NOTE, PITCH = "one note", "pitch"
EXCHANGE, SIDE = "exchange of fingers", "side change"
BACK, LEAP, HALF = "back syllable", "leap", "second half"
REGISTER, OFF_BEAT = "register", "off-beat"

FEWEST_TIMES = 4
FEWEST_NOTES_HALVED = 8
FEWEST_SEMITONES_PARTED = 7
ORDINALS = ("first", "second", "third", "fourth", "fifth", "sixth")


@dataclass(frozen=True, slots=True)
class Question:
    """A group of notes: its `kind`, and in words where they are ("off the beat"; "" for a note or
    pitch, which has a name).  `also`: other words that fit the same notes, so that these takes
    can't tell them apart."""

    kind: str
    where: str
    spots: frozenset[Spot]
    also: tuple[str, ...] = ()


def questions(material: Material) -> tuple[Question, ...]:
    """All questions that the music allows; groups of the same notes are asked once.

    What is asked depends on what was to be played and how often, never on the mistakes, or the
    correction for the number of questions would be wrong.
    """
    groups = [*_notes(material), *_moves(material), *_others(material), *_pitches(material)]
    return _asked_once(groups, material)


def questions_of_moves(material: Material) -> tuple[Question, ...]:
    """Those about what the fingers do: their lag is asked for too."""
    return _asked_once(_moves(material), material)


def _asked_once(groups: Iterable[Question], material: Material) -> tuple[Question, ...]:
    """Of groups with the same notes the first gives the name."""
    asked: dict[frozenset[Spot], Question] = {}
    for group in groups:
        known = asked.get(group.spots)
        if known is not None:
            others = dict.fromkeys((*known.also, *([group.where] if group.where else [])))
            asked[group.spots] = replace(known, also=tuple(others))
        elif 0 < len(group.spots) < len(material.places):
            asked[group.spots] = group
    return tuple(asked.values())


def _notes(material: Material) -> list[Question]:
    """Each note of the passages that were played often enough."""
    times = Counter(fact.spot for fact in material.facts)
    return [
        Question(NOTE, "", frozenset((spot,)))
        for spot in material.places
        if times[spot] >= FEWEST_TIMES
    ]


def _pitches(material: Material) -> list[Question]:
    return list(_named(material, PITCH, lambda place: str(place.pitch), ""))


def _moves(material: Material) -> list[Question]:
    """What thumb and fingers do: each by itself, then all together."""
    return [
        *_named(material, SIDE, _thumb),
        _where(material, SIDE, "where the side changes", lambda p: bool(_thumb(p))),
        *_named(material, EXCHANGE, _exchange),
        _where(material, EXCHANGE, "where fingers are exchanged", lambda p: bool(_exchange(p))),
    ]


def _others(material: Material) -> Iterator[Question]:
    yield _where(material, LEAP, "after a leap up", lambda p: p.leap >= LEAP_SEMITONES)
    yield _where(material, LEAP, "after a leap down", lambda p: p.leap <= -LEAP_SEMITONES)
    yield _where(material, LEAP, "after a leap", lambda p: abs(p.leap) >= LEAP_SEMITONES)
    yield _where(material, BACK, "on the back syllable", lambda p: p.back)
    yield from _registers(material)
    yield _where(material, OFF_BEAT, "off the beat", lambda p: p.position > 0)
    yield from _named(material, OFF_BEAT, _position)
    yield Question(HALF, "in the second half", _second_half(material))


def _thumb(place: Surroundings) -> str:
    if place.move is None or not place.move.thumb:
        return ""
    lever, way = place.move.thumb.split()
    return f"where the thumb goes {way}" + ("" if lever == "T" else f" ({lever})")


def _exchange(place: Surroundings) -> str:
    return exchange_words(place.move) if place.move and place.move.exchanges else ""


def exchange_words(move: FingerMove) -> str:
    """ "where 1 goes up while 2 goes down"."""
    up, down = (" and ".join(valves) for valves in (move.ups, move.downs))
    lifts = "go" if len(move.ups) > 1 else "goes"
    presses = "go" if len(move.downs) > 1 else "goes"
    return f"where {up} {lifts} up while {down} {presses} down"


def _position(place: Surroundings) -> str:
    if not 0 < place.position < len(ORDINALS):
        return ""
    return f"on the {ORDINALS[place.position]} note of a beat"


def _named(
    material: Material, kind: str, name: Callable[[Surroundings], str], where: str | None = None
) -> Iterator[Question]:
    """One group for each name that places have; in words `where`, or the name itself."""
    groups: dict[str, set[Spot]] = {}
    for spot, place in material.places.items():
        if words := name(place):
            groups.setdefault(words, set()).add(spot)
    for words, spots in groups.items():
        yield Question(kind, words if where is None else where, frozenset(spots))


def _where(
    material: Material, kind: str, where: str, belongs: Callable[[Surroundings], bool]
) -> Question:
    spots = frozenset(spot for spot, place in material.places.items() if belongs(place))
    return Question(kind, where, spots)


def _registers(material: Material) -> Iterator[Question]:
    """Low, middle and high: thirds of the range of all takes."""
    pitches = [place.pitch for place in material.places.values()]
    low, span = min(pitches, default=0), max(pitches, default=0) - min(pitches, default=0)
    if span < FEWEST_SEMITONES_PARTED:
        return
    thirds: dict[int, set[Spot]] = {0: set(), 1: set(), 2: set()}
    for spot, place in material.places.items():
        thirds[min(2, 3 * (place.pitch - low) // span)].add(spot)
    for third, register in enumerate(("low", "middle", "high")):
        yield Question(REGISTER, f"in the {register} register", frozenset(thirds[third]))


def _second_half(material: Material) -> frozenset[Spot]:
    lengths = [len(exercise.passage.notes) for exercise in material.exercises]
    return frozenset(
        spot
        for spot, place in material.places.items()
        if place.second_half and lengths[spot[0]] >= FEWEST_NOTES_HALVED
    )
