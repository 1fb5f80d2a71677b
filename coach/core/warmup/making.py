"""What all parts of a warm-up share: the day, its keys, and a drill at one tempo."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TypeVar

from coach.core.course import CoursePart
from coach.core.exercise import Drill
from coach.core.gate import Gate
from coach.core.passage import Passage
from coach.core.patterns.keys import Ladder, Mode, all_keys, signature, tonic_from
from coach.core.patterns.layout import Layout, lay
from coach.core.patterns.lines import Ladders
from coach.core.warmup.reach import Reach

T = TypeVar("T")
Line = Callable[[Ladders, int], list[int]]
KEYS = 12
# How the names of its drills begin.
WARMUP = "warmup-"
# The title of a line where the instrument has no scale.
SERIES = "the notes of the series"


@dataclass(frozen=True, slots=True)
class Day:
    """The comfortable notes of a player and the number of the day; `outside_semitones` is how far
    the range part may go beyond them."""

    reach: Reach
    number: int
    outside_semitones: int

    def pick(self, choices: Sequence[T], part: int = 0) -> T:
        """One choice, another on the next day and in the next part."""
        return choices[(self.number + part) % len(choices)]


@dataclass(frozen=True, slots=True)
class Said:
    """The words of a part: the drill's title and about, and why it is played now."""

    title: str
    about: str
    why: str
    caution: str = ""


def part_of(
    day: Day, kind: str, said: Said, variants: Sequence[Passage], tempo_bpm: float, rules: str
) -> CoursePart:
    """A part at one tempo; takes and rests are filled in when the time is shared out."""
    drill = Drill(
        f"{WARMUP}{kind}",
        said.title,
        said.about,
        tuple(variants),
        tempo_bpm,
        tempo_bpm,
        day.reach.instrument.name,
        rules,
        rest_beats=2,
        gate=Gate(),
    )
    return CoursePart(drill, 1, 0.0, said.why, said.caution)


def in_key(
    day: Day, part: int, mode: Mode, line: Line, rungs: Sequence[int], layout: Layout
) -> Passage:
    """A line in the key of the day (in the next part the next one), nearest the middle of the
    comfortable range; over the notes of the series where no key fits.

    `rungs` says how far it goes, what is wanted most first.
    """
    keys = all_keys(mode)
    for step in range(KEYS):
        key = keys[(day.number + part + step) % KEYS]
        for far in rungs:
            made = _placed(day.reach, key, mode, line, far, layout)
            if made is not None:
                return made
    return _natural(day.reach, line, layout)


def _placed(
    reach: Reach, key: str, mode: Mode, line: Line, rungs: int, layout: Layout
) -> Passage | None:
    """The line from the tonic that puts it nearest the middle, None where none does."""
    moved = reach.instrument.transposition
    semitones = mode.ladders(0)[0].at(rungs)
    tonics = range(tonic_from(key, reach.low - moved), reach.high - moved - semitones + 1, 12)
    for tonic in sorted(tonics, key=lambda t: abs(t + moved + semitones / 2 - reach.middle)):
        title = f"{key} {mode.title}"
        written = lay(
            line(mode.ladders(tonic), rungs), layout, title=title, fifths=signature(key, mode)
        )
        passage = written.transposed(moved)
        if reach.holds(passage):
            return passage
    return None


def _natural(reach: Reach, line: Line, layout: Layout) -> Passage:
    """The line over up to five notes that the instrument has about the middle."""
    row = reach.row()
    middle = min(range(len(row)), key=lambda k: abs(row[k] - reach.middle))
    first = max(0, min(middle - 2, len(row) - 5))
    rungs = row[first : first + 5]
    ladder = Ladder(rungs[0], tuple(pitch - rungs[0] for pitch in rungs))
    return lay(line((ladder, ladder), len(rungs) - 1), layout, title=SERIES)
