"""What stands on a sheet for the music stand: the music with its fingers and syllables, the drills
made from it with boxes to tick, and one line of caution."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from coach.core.building.settings import BuildingSettings
from coach.core.building.steps import part_of
from coach.core.building.today import Today, today, whole_bpm
from coach.core.exercise import Drill
from coach.core.fingering.moves import move_between
from coach.core.instrument import Instrument
from coach.core.notation.model import printed_value
from coach.core.passage import Note, Passage

# What the way to a tempo makes of one passage, in its order; steps that only put others together
# (whole beside pieces, whole above the goal) would be the same line twice on paper.
STEPS = ("slow", "rhythms", "exchanges", "slurs", "tongue", "bursts", "adding", "accents", "gate")
# As many as fit in one row at 6 mm and can be told apart by ear.
MOST_BOXES, SMALLEST_STEP_SHARE = 8, 0.04
# A drill at one tempo is ticked once a day.
DAYS = 5
CAUTION = (
    "Rest as long as you play. Stop when it hurts: pain or numbness belongs before a teacher and a"
    " medical professional."
)
EXCHANGE_WORDS = "underlined: here one valve goes up while another goes down"
# Those that a metronome mark can be drawn with.
DRAWN = ("half", "quarter", "eighth", "16th")


@dataclass(frozen=True, slots=True)
class TempoMark:
    """A metronome mark: note value ("quarter"; "" where no note is as long as a click), its dots,
    and how many a minute."""

    value: str
    dots: int
    bpm: float


@dataclass(frozen=True, slots=True)
class PlanLine:
    """The passage (sounding) in one plan of fingerings; `alternates`: of each note the fingering in
    brackets above it, or None; `overlined`: indices of notes whose fingering has a line over it."""

    label: str
    passage: Passage
    alternates: tuple[str | None, ...] = ()
    overlined: frozenset[int] = frozenset()

    @property
    def exchanges(self) -> frozenset[int]:
        """Indices of the notes that are reached at once by lifting a valve and pressing another."""
        pairs = itertools.pairwise(self.passage.notes)
        return frozenset(k for k, (a, b) in enumerate(pairs, 1) if _is_exchange(a, b))


@dataclass(frozen=True, slots=True)
class SheetDrill:
    """One line below the music: `bar` is how it begins (sounding), `bpms` stand over its boxes."""

    name: str
    how: str
    bar: Passage
    bpms: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """All of it, in the order in which it is read; `details` is the line under the title."""

    title: str
    details: str
    tempo: TempoMark
    plans: tuple[PlanLine, ...]
    legend: tuple[str, ...]
    drills: tuple[SheetDrill, ...]
    caution: str = CAUTION


def sheet_of(
    drill: Drill,
    instrument: Instrument,
    plans: Sequence[PlanLine],
    tempo_bpm: float,
    settings: BuildingSettings,
    remarks: Sequence[str] = (),
) -> Sheet:
    """The sheet for a passage of `drill` in one plan or two; `tempo_bpm` clicks are its goal.

    `remarks` follow the legend of the signs.
    """
    passage = plans[0].passage
    own = "" if passage.title in drill.title else passage.title
    marked = any(plan.exchanges for plan in plans)
    return Sheet(
        drill.title,
        ", ".join(filter(None, (own, instrument.title))),
        tempo_mark(passage.pulse_beats, tempo_bpm),
        tuple(plans),
        (*((EXCHANGE_WORDS,) if marked else ()), *remarks),
        drills_of(drill, instrument, passage, tempo_bpm, settings),
    )


def tempo_mark(pulse_beats: Fraction, bpm: float) -> TempoMark:
    """The note that lasts one click of `pulse_beats` quarter notes."""
    value, dots = printed_value(pulse_beats) or ("", 0)
    return TempoMark(value, dots, bpm) if value in DRAWN else TempoMark("", 0, bpm)


def drills_of(
    drill: Drill,
    instrument: Instrument,
    passage: Passage,
    tempo_bpm: float,
    settings: BuildingSettings,
) -> tuple[SheetDrill, ...]:
    """What the first day of building would make of the passage, each on its way to the goal."""
    alone = replace(drill, variants=(replace(passage, way="played", tempo_share=1.0),))
    standing = today(alone, instrument, 1, DAYS, tempo_bpm, None, settings)
    made = (_drill(step, standing, tempo_bpm) for step in STEPS if passage.notes)
    return tuple(line for line in made if line is not None)


def _drill(step: str, standing: Today, tempo_bpm: float) -> SheetDrill | None:
    part = part_of(step, standing, 0)
    if part is None:
        return None
    name = part.drill.title.removeprefix(f"{standing.drill.title}: ")
    shown = part.drill.variants[0]
    if step == "tongue":
        bar = opening(shown)
    else:
        bar = opening(_without(shown, fingering=step != "exchanges"))
    share = standing.settings.slow_share if step == "slow" else 1.0
    goal_bpm = tempo_bpm if share == 1 else whole_bpm(tempo_bpm * share)
    return SheetDrill(name, part.drill.about, bar, boxes(part.drill.from_bpm, goal_bpm))


def _without(passage: Passage, *, fingering: bool) -> Passage:
    """Without syllables, and without fingerings if so: small notes have no room for them."""
    notes = (
        replace(note, syllable=None, fingering=None if fingering else note.fingering)
        for note in passage.notes
    )
    return replace(passage, notes=tuple(notes))


def opening(passage: Passage) -> Passage:
    """Its first bar, what is held over the bar line cut there."""
    bar_beats = passage.bar_beats
    notes = tuple(
        replace(note, length_beats=min(note.end_beats, bar_beats) - note.start_beats)
        for note in passage.notes
        if note.start_beats < bar_beats
    )
    return replace(passage, notes=notes, changes=())


def boxes(from_bpm: float, to_bpm: float) -> tuple[float, ...]:
    """Whole tempi over the boxes, each by the same share faster and the last one the goal; at the
    goal itself one box for each of `DAYS` days."""
    if from_bpm >= to_bpm:
        return (to_bpm,) * DAYS
    count = MOST_BOXES
    while count > 2 and (to_bpm / from_bpm) ** (1 / (count - 1)) < 1 + SMALLEST_STEP_SHARE:
        count -= 1
    steps = (from_bpm * (to_bpm / from_bpm) ** (k / (count - 1)) for k in range(count - 1))
    rising = dict.fromkeys(float(round(bpm)) for bpm in steps)
    return (*(bpm for bpm in rising if bpm < to_bpm), to_bpm)


def _is_exchange(before: Note, after: Note) -> bool:
    """After a rest the fingers have time."""
    move = move_between(before.fingering, after.fingering)
    return move is not None and move.exchanges and before.end_beats == after.start_beats


def one_line(
    passage: Passage, ways: Sequence[Sequence[str]], *, close: bool
) -> tuple[list[PlanLine], list[str]]:
    """The first of the ways to finger it, the second in brackets where it differs; and what the
    legend says of them."""
    if len(ways) < 2:
        return [PlanLine("", _fingered(passage, ways[0]))], []
    pairs = zip(*ways[:2], strict=True)
    others = tuple(other if other != first else None for first, other in pairs)
    words = "in brackets: another way to finger it"
    return [PlanLine("", _fingered(passage, ways[0]), others)], [words + _trial(close)]


def two_lines(
    passage: Passage, ways: Sequence[Sequence[str]], *, close: bool
) -> tuple[list[PlanLine], list[str]]:
    """Plans A and B, with a line over fingerings that differ; and what the legend says of them."""
    pairs = enumerate(zip(*ways[:2], strict=True))
    overlined = frozenset(k for k, (first, other) in pairs if first != other)
    lines = [
        PlanLine(f"Plan {letter}", _fingered(passage, way), overlined=overlined)
        for letter, way in zip("AB", ways, strict=False)
    ]
    return lines, ["a line above: here the plans differ" + _trial(close)]


def _trial(close: bool) -> str:
    return "; on paper they are about equal: try both" if close else ""


def _fingered(passage: Passage, way: Sequence[str]) -> Passage:
    pairs = zip(passage.notes, way, strict=True)
    return replace(passage, notes=tuple(replace(note, fingering=one) for note, one in pairs))
