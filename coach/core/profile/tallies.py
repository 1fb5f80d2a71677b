"""From one judged take to its tallies: what each sort of note did.

| kind           | name                       | value                                  |
|----------------|----------------------------|----------------------------------------|
| "move"         | what the fingers do: "1>3" | ms by which the valves are behind      |
| "syllable"     | "front", "back", "single"  | dB against the middle of the take      |
| "articulation" | "tongued", "slurred"       | none                                   |
| "register"     | "low", "middle", "high"    | ms late (early: negative)              |
| "rate"         | "double 9-9.5": the stroke | notes a second                         |
| "take"         | "offset"                   | ms behind the click                    |
| "take"         | "evenness"                 | deviation of the intervals over mean   |

A move is told by the fingers that go up and down and by the thumb, not by the two fingerings: what
is learnt of 1 up and 3 down in one place serves every other.  Notes judged "unsure" count nowhere.
Of the kind "take" each take counts once, clean if it passed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from coach.core.exercise import Exercise
from coach.core.findings.facts import Fact, Judged, Material, Surroundings, facts_of
from coach.core.fingering.moves import FingerMove
from coach.core.profile.speeds import speeds_of
from coach.core.profile.tally import Tally
from coach.core.report import Report

MOVE, SYLLABLE, ARTICULATION = "move", "syllable", "articulation"
REGISTER, RATE, TAKE = "register", "rate", "take"
OFFSET, EVENNESS = "offset", "evenness"
# Sounding MIDI: the registers in which the hearing was measured.
LOW_TO, HIGH_FROM = 52, 65
RATE_STEP_HZ = 0.5
# With half a second the fingers have all the time they want (Weights.long_note_s).
LONGEST_MOVE_S = 0.5
# Further off it is not the valve that was late: another change of pitch was taken for it.
FURTHEST_LAG_MS = 80.0

# Kind, name, value.
Entry = tuple[str, str, float | None]


def tallies_of(
    report: Report, exercise: Exercise, fingerings: Sequence[str | None], day: int
) -> tuple[Tally, ...]:
    """The tallies of one take, played on `day` (`date.toordinal`), sorted by kind and name.

    `fingerings` are the usual ones, one a note, for a passage that has none written in it.  All of
    them None: there are no valves (a slide), and what is written in the passage is no valve either.
    """
    if not any(fingerings):
        exercise = _unfingered(exercise)
    material = facts_of([Judged(exercise, report, report.rate)], lambda _: fingerings)
    return added([*_note_tallies(material, exercise, day), *_take_tallies(report, day)])


def added(tallies: Iterable[Tally]) -> tuple[Tally, ...]:
    """One tally for each kind, name and day, sorted by them."""
    found: dict[tuple[str, str, int], Tally] = {}
    for tally in tallies:
        key = tally.kind, tally.name, tally.day
        found[key] = found[key].plus(tally) if key in found else tally
    return tuple(found[key] for key in sorted(found))


def move_name(move: FingerMove) -> str:
    """ "12>3", with the thumb "1> T down"."""
    return f"{move.ups}>{move.downs} {move.thumb}".rstrip()


def move_named(name: str) -> FingerMove:
    """The move that `move_name` calls so."""
    valves, _, thumb = name.partition(" ")
    ups, _, downs = valves.partition(">")
    return FingerMove(ups, downs, thumb)


def stroke_of(name: str) -> str:
    """ "double" of the rate "double 9-9.5"."""
    return name.partition(" ")[0]


def _unfingered(exercise: Exercise) -> Exercise:
    notes = tuple(replace(note, fingering=None) for note in exercise.passage.notes)
    return replace(exercise, passage=replace(exercise.passage, notes=notes))


def _take_tallies(report: Report, day: int) -> Iterator[Tally]:
    if any(verdict.deviation_frames is not None for verdict in report.verdicts):
        yield _one(TAKE, OFFSET, day, report.passed, report.offset_ms)
    if report.evenness_cv is not None:
        yield _one(TAKE, EVENNESS, day, report.passed, report.evenness_cv)


def _note_tallies(material: Material, exercise: Exercise, day: int) -> Iterator[Tally]:
    speeds = speeds_of(exercise)
    fronts = "front" if any(place.back for place in material.places.values()) else "single"
    for fact in material.facts:
        if fact.kind == "unsure":
            continue
        place, index = material.places[fact.spot], fact.spot[1]
        syllable = exercise.passage.notes[index].syllable
        entries = [
            *_of_tongue(fact, place, ("back" if place.back else fronts) if syllable else None),
            (REGISTER, register_of(place.pitch), fact.deviation_ms),
            *_of_speed(speeds[index]),
            *(_of_move(fact, place) if _quick(exercise, index) else ()),
        ]
        for kind, name, value in entries:
            yield _one(kind, name, day, fact.kind == "clean", value)


def _one(kind: str, name: str, day: int, clean: bool, value: float | None) -> Tally:
    if value is None:
        return Tally(kind, name, day, 1, int(clean))
    return Tally(kind, name, day, 1, int(clean), 1, value, value * value)


def _of_tongue(fact: Fact, place: Surroundings, syllable: str | None) -> Iterator[Entry]:
    yield ARTICULATION, "slurred" if place.slurred else "tongued", None
    if syllable and not place.slurred:
        yield SYLLABLE, syllable, fact.level_db


def register_of(pitch: int) -> str:
    """ "low", "middle" or "high", of a sounding MIDI number."""
    return "low" if pitch <= LOW_TO else "high" if pitch >= HIGH_FROM else "middle"


def _of_speed(speed: tuple[str, float] | None) -> Iterator[Entry]:
    if speed is not None:
        stroke, rate_hz = speed
        low = math.floor(rate_hz / RATE_STEP_HZ) * RATE_STEP_HZ
        yield RATE, f"{stroke} {low:g}-{low + RATE_STEP_HZ:g}", rate_hz


def _of_move(fact: Fact, place: Surroundings) -> Iterator[Entry]:
    if place.move is not None and place.move != FingerMove():
        lag = fact.lag_ms
        heard = lag is not None and abs(lag) <= FURTHEST_LAG_MS
        yield MOVE, move_name(place.move), lag if heard else None


def _quick(exercise: Exercise, index: int) -> bool:
    """Whether the note follows the one before it in less than `LONGEST_MOVE_S`."""
    passage = exercise.passage
    before, note = passage.notes[max(0, index - 1)], passage.notes[index]
    pulses = (note.start_beats - before.start_beats) / passage.pulse_beats
    return float(pulses) * 60 / exercise.tempo_bpm < LONGEST_MOVE_S
