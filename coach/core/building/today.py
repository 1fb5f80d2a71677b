"""Where a passage stands on one day of the way: the tempi that follow from it, today's piece."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from coach.core.building.settings import BuildingSettings
from coach.core.exercise import Drill
from coach.core.instrument import Instrument
from coach.core.passage import Passage
from coach.core.variants.laying import cut, place_of, usual_length

SLOWEST_BPM = 10
# Of a longer passage exercises are made of a part of it, each round and day of the next.
LONGEST_PIECE_NOTES = 48
MOST_IN_A_CLICK = 6


@dataclass(frozen=True, slots=True)
class Today:
    """One passage today, in written pitch.

    `now_bpm` is what goes, `aim_bpm` what today is to bring, `to_bpm` the goal (all in clicks);
    `passages` are its plain variants, today's first; `piece` is what exercises are made of, and
    `where` says where in the passage it lies ("" if it is all of it).
    """

    drill: Drill
    instrument: Instrument
    passages: tuple[Passage, ...]
    piece: Passage
    where: str
    now_bpm: float
    aim_bpm: float
    to_bpm: float
    last: bool
    settings: BuildingSettings

    @property
    def slow_bpm(self) -> float:
        return whole_bpm(self.now_bpm * self.settings.slow_share)

    @property
    def pieces_bpm(self) -> float:
        return whole_bpm(self.now_bpm * self.settings.pieces_share)

    @property
    def above_bpm(self) -> float:
        return whole_bpm(self.to_bpm * self.settings.above_share)

    @property
    def end_bpm(self) -> float:
        """What will succeed; on the last day the goal."""
        return self.to_bpm if self.last else whole_bpm(self.now_bpm * self.settings.end_share)

    @property
    def in_a_click(self) -> int:
        """How many of the piece's usual notes one click holds, 1 to `MOST_IN_A_CLICK`."""
        held = round(self.piece.pulse_beats / usual_length(self.piece))
        return max(1, min(MOST_IN_A_CLICK, held))

    def at(self, turn: int) -> Today:
        """With the piece of a turn: the passage itself unless it is long."""
        whole = self.passages[0]
        count = len(whole.notes)
        if count <= LONGEST_PIECE_NOTES:
            return self
        pieces = math.ceil(count / LONGEST_PIECE_NOTES)
        size = math.ceil(count / pieces)
        first = turn % pieces * size
        piece = cut(whole, first, size, whole.title)
        return replace(self, piece=piece, where=f"from {place_of(whole, first)} on")


def whole_bpm(bpm: float) -> float:
    """In whole clicks a minute, as metronomes have it."""
    return float(max(SLOWEST_BPM, round(bpm)))


def today(
    drill: Drill,
    instrument: Instrument,
    day: int,
    days: int,
    to_bpm: float,
    ceiling_bpm: float | None,
    settings: BuildingSettings,
) -> Today:
    """A passage on day 1 to `days`; the rest of the way is spread over the days that are left, each
    by the same share faster, so that the last one aims at the goal."""
    now_bpm = min(to_bpm, ceiling_bpm or _guessed_bpm(drill, day, days, to_bpm, settings))
    aim_bpm = now_bpm * (to_bpm / now_bpm) ** (1 / (days - day + 1))
    played = [passage for passage in drill.variants if is_plain(passage)]
    written = [passage.transposed(-instrument.transposition) for passage in played]
    passages = rotated(written, day - 1)
    return Today(
        drill,
        instrument,
        passages,
        piece=passages[0],
        where="",
        now_bpm=min(to_bpm, whole_bpm(now_bpm)),
        aim_bpm=to_bpm if day == days else min(to_bpm, whole_bpm(aim_bpm)),
        to_bpm=to_bpm,
        last=day == days,
        settings=settings,
    )


def is_plain(passage: Passage) -> bool:
    """Whether it is played, at the drill's own tempo; turns on air are not taken over."""
    return bool(passage.notes) and passage.way == "played" and passage.tempo_share == 1


def _guessed_bpm(
    drill: Drill, day: int, days: int, to_bpm: float, settings: BuildingSettings
) -> float:
    """What goes where nobody knows it: as if the days before had brought what they aimed at."""
    first_bpm = drill.from_bpm if drill.from_bpm < to_bpm else to_bpm * settings.start_share
    return float(first_bpm * (to_bpm / first_bpm) ** ((day - 1) / days))


def rotated(passages: Sequence[Passage], places: int) -> tuple[Passage, ...]:
    """The same in turn, beginning so many places later."""
    first = places % max(1, len(passages))
    return (*passages[first:], *passages[:first])
