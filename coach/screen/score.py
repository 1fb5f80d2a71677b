"""A take's notes made ready to be shown: names, groups of a beat, bars.  Built once a take."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from coach.core.passage import BarSpan, Note, Passage, bar_index
from coach.core.rules import Rules
from coach.core.timeline import Plan
from coach.screen.font import big_note
from coach.screen.ruler import tolerances_ms
from coach.screen.words import Spelling, spelling_of

SCALES = (0, 1, 2)
LARGEST_GROUP = 8
FULL_GROUP = 4


@dataclass(frozen=True, slots=True)
class ScoreLayout:
    """`names` are written ones; `groups` are ranges of note indices that are shown together, and
    `group_of` says in which one a note is; `bar_of` in which bar, as it is called;
    `last_bar` is the last one.

    `cells[scale]` are the widths of the notes drawn as text (0) or in block letters of scale 1 or 2
    and `widest[scale]` that of the widest group.
    """

    plan: Plan
    spelling: Spelling
    names: tuple[str, ...]
    groups: tuple[range, ...]
    group_of: tuple[int, ...]
    bar_of: tuple[int, ...]
    last_bar: int
    tolerances_ms: tuple[float, ...]
    cells: tuple[tuple[int, ...], ...]
    widest: tuple[int, ...]


def score_of(plan: Plan, rules: Rules) -> ScoreLayout:
    passage, spelling = plan.exercise.passage, spelling_of(plan.exercise)
    bars = passage.bars
    groups = _groups(passage)
    names = tuple(spelling.name(note.pitch) for note in passage.notes)
    cells = tuple(tuple(map(_cell_width(scale), names, passage.notes)) for scale in SCALES)
    widest = (max((sum(row[k] for k in g) for g in groups), default=0) for row in cells)
    return ScoreLayout(
        plan,
        spelling,
        names,
        groups,
        tuple(number for number, group in enumerate(groups) for _ in group),
        tuple(passage.first_bar + bar_index(bars, n.start_beats) for n in passage.notes),
        passage.first_bar + len(bars) - 1,
        tuple(tolerances_ms(plan.dues, rules, plan.rate)),
        cells,
        tuple(widest),
    )


def _cell_width(scale: int) -> Callable[[str, Note], int]:
    """How wide a note is with what stands under it and the space after it."""

    def width(name: str, note: Note) -> int:
        drawn = len(big_note(name, scale)[0]) if scale else len(name)
        return max(drawn, len(note.syllable or ""), len(note.fingering or "")) + 2 + (scale > 0)

    return width


def _groups(passage: Passage) -> tuple[range, ...]:
    """The notes of one click together; few-note clicks of one bar are joined up to four notes."""
    groups: list[range] = []
    bars = passage.bars
    for clicks in _by_click(passage):
        last = groups[-1] if groups else None
        if last is not None and _joins(last, clicks, passage, bars):
            groups[-1] = range(last.start, clicks.stop)
        else:
            groups.append(clicks)
    return tuple(piece for group in groups for piece in _pieces(group))


def _by_click(passage: Passage) -> list[range]:
    found: list[range] = []
    before, bars = None, passage.bars
    for index, note in enumerate(passage.notes):
        bar = bars[bar_index(bars, note.start_beats)]
        click = (bar.start_beats, (note.start_beats - bar.start_beats) // bar.pulse_beats)
        if click == before:
            found[-1] = range(found[-1].start, index + 1)
        else:
            found.append(range(index, index + 1))
        before = click
    return found


def _joins(first: range, second: range, passage: Passage, bars: tuple[BarSpan, ...]) -> bool:
    one, other = (passage.notes[k.start].start_beats for k in (first, second))
    same_bar = bar_index(bars, one) == bar_index(bars, other)
    return same_bar and second.stop - first.start <= FULL_GROUP


def _pieces(group: range) -> list[range]:
    """A click with very many notes in equal parts."""
    parts = -(-len(group) // LARGEST_GROUP)
    size = -(-len(group) // parts)
    return [group[k : k + size] for k in range(0, len(group), size)]
