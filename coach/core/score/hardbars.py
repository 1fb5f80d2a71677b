"""Hard bars, put together to places to practise; music that returns is counted once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

from coach.core.score.hardness import Hardness, HardNote
from coach.core.score.line import Line

# What is played in a bar, from its start on: equal for bars of the same music.
Music: TypeAlias = tuple[object, ...]


@dataclass(frozen=True, slots=True)
class HardBar:
    """One printed bar by its number, as hard as it gets where it is played; `runs_on`: it leads
    into the next printed bar fast and without a rest."""

    number: str
    notes: tuple[HardNote, ...]
    music: Music
    runs_on: bool

    @property
    def score(self) -> float:
        return sum(note.score for note in self.notes)


@dataclass(frozen=True, slots=True)
class Span:
    """Bars from the place `first` to `last` in the row of printed bars; `also`: the same music."""

    first: int
    last: int
    also: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class _Played:
    """A whole bar as played: the index of its first part in the score, and its notes."""

    index: int
    number: str
    notes: tuple[HardNote, ...]
    music: Music


def hard_bars(line: Line, notes: Sequence[HardNote], figures: Hardness) -> tuple[HardBar, ...]:
    """The printed bars in order; the second part of a split bar counts with the first."""
    played = list(_played(line, notes))
    order = sorted({bar.index for bar in played})
    following = dict(pairwise(order))
    crossed = {
        bar.index
        for bar, after in pairwise(played)
        if after.index == following.get(bar.index) and _is_entered(after, figures)
    }
    hardest: dict[int, HardBar] = {}
    for bar in played:
        made = HardBar(bar.number, bar.notes, bar.music, bar.index in crossed)
        if bar.index not in hardest or made.score > hardest[bar.index].score:
            hardest[bar.index] = made
    return tuple(hardest[index] for index in order)


def _is_entered(bar: _Played, figures: Hardness) -> bool:
    """Whether the first note of the bar follows the bar before fast and without a rest."""
    first = bar.notes[0].paced if bar.notes else None
    return first is not None and not first.rested and first.rate_hz >= figures.free_hz


def _played(line: Line, notes: Sequence[HardNote]) -> Iterator[_Played]:
    indexes = {bar.index for bar in line.bars}
    second = {bar.index for bar in line.bars if bar.into and bar.index - 1 in indexes}
    of_bar: dict[int, list[HardNote]] = {}
    for note in notes:
        of_bar.setdefault(note.paced.bar, []).append(note)
    places: list[int] = []
    for place, bar in enumerate(line.bars):
        if places and bar.index not in second:
            yield _whole(line, places, of_bar)
            places = []
        places.append(place)
    if places:
        yield _whole(line, places, of_bar)


def _whole(line: Line, places: Sequence[int], of_bar: dict[int, list[HardNote]]) -> _Played:
    notes = tuple(note for place in places for note in of_bar.get(place, ()))
    first = line.bars[places[0]]
    heads = (note.paced.note for note in notes)
    music = tuple((n.onset - first.start, n.length, n.sounding, n.slurred) for n in heads)
    return _Played(first.index, first.number, notes, music)


def spans(bars: Sequence[HardBar], figures: Hardness, most: int) -> tuple[Span, ...]:
    """At most `most` places that share no bar, the one with the hardest bar first."""
    found: list[Span] = []
    used: set[int] = set()
    hard = [place for place, bar in enumerate(bars) if bar.score > 0]
    for top in sorted(hard, key=lambda place: (-bars[place].score, place)):
        if top in used or len(found) == most:
            continue
        first, last = _grown(bars, top, used, figures)
        used |= set(range(first, last + 1))
        also = tuple(_returns(bars, first, last, used))
        also += tuple(_alone(bars, top, used))
        found.append(Span(first, last, also))
    return tuple(found)


def _grown(bars: Sequence[HardBar], top: int, used: set[int], figures: Hardness) -> tuple[int, int]:
    """The bars around the hardest one that belong to it, the harder side first."""
    first = last = top
    while last - first + 1 < figures.most_bars:
        beside = [
            place
            for place, crossed in ((first - 1, first - 1), (last + 1, last))
            if 0 <= place < len(bars)
            and place not in used
            and _belongs(bars, place, crossed, top, figures)
        ]
        if not beside:
            break
        chosen = max(beside, key=lambda place: bars[place].score)
        first, last = min(first, chosen), max(last, chosen)
    return first, last


def _belongs(
    bars: Sequence[HardBar], place: int, crossed: int, top: int, figures: Hardness
) -> bool:
    """Whether a bar is hard enough beside the hardest; `crossed` is the bar before the line."""
    share = figures.run_share if bars[crossed].runs_on else figures.beside_share
    return bars[place].score >= share * bars[top].score


def _returns(
    bars: Sequence[HardBar], first: int, last: int, used: set[int]
) -> Iterator[tuple[int, int]]:
    """Where all bars of a place come again; they are used up too."""
    count = last - first + 1
    for start in range(len(bars) - count + 1):
        places = range(start, start + count)
        same = all(bars[at].music == bars[first + k].music for k, at in enumerate(places))
        if same and not used & set(places):
            used |= set(places)
            yield start, start + count - 1


def _alone(bars: Sequence[HardBar], top: int, used: set[int]) -> Iterator[tuple[int, int]]:
    """Where the hardest bar of a place comes again without the others."""
    for place, bar in enumerate(bars):
        if place not in used and bar.music == bars[top].music:
            used.add(place)
            yield place, place
