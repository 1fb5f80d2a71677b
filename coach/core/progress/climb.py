"""Is it getting faster?  One passage: its clean ceiling day by day, every take, the goal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coach.core.pace.prior import EarlierTake, beliefs_from
from coach.core.progress.dates import date_words, span_words
from coach.core.review import SHOWN_DAYS, THRESHOLD, PassageReview, PlayedTake

# So many takes tell the ceilings of all days, shared among them; so many before the first day.
MOST_TAKES, EARLIER_TAKES = 96, 12
# The rise is told over so many days, or over all there are.
TOLD_DAYS = 14
# A ceiling that moved by less may not have moved at all.
MOVED_PERCENT = 3.0


@dataclass(frozen=True, slots=True)
class CeilingDay:
    """What is believed of the clean ceiling at the end of a day, with its 90 % interval."""

    day: int
    bpm: float
    low_bpm: float
    high_bpm: float


@dataclass(frozen=True, slots=True)
class TakeDot:
    """One take: `at_day` is its day and, as a fraction, its place among the takes of that day."""

    at_day: float
    tempo_bpm: float
    passed: bool


@dataclass(frozen=True, slots=True)
class Climb:
    """One passage over the days shown; `ceilings` of the days on which it was practised, in order
    and at least one; `due_day` is one to come."""

    drill: str
    title: str
    first_day: int
    today: int
    ceilings: tuple[CeilingDay, ...]
    takes: tuple[TakeDot, ...]
    goal_bpm: float | None
    due_day: int | None

    @property
    def since(self) -> CeilingDay:
        """The day that the last one is compared with: `TOLD_DAYS` before it, or the first shown."""
        last = self.ceilings[-1].day
        early = [one for one in self.ceilings if one.day <= last - TOLD_DAYS]
        return early[-1] if early else self.ceilings[0]


def climb_of(rows: Sequence[PlayedTake], standing: PassageReview, today: int) -> Climb:
    """Of the takes of one passage, oldest first; the last ceiling is that of the `standing`."""
    first_day, due_day = today - SHOWN_DAYS + 1, standing.due_day
    used = [row for row in rows if row.counted and row.day <= today]
    last = CeilingDay(standing.last_day, standing.ceiling_bpm, standing.low_bpm, standing.high_bpm)
    shown = [row for row in used if row.day >= first_day]
    before = [row for row in used if row.day < first_day][-EARLIER_TAKES:]
    return Climb(
        standing.drill,
        standing.title,
        first_day,
        today,
        (*_ceilings(before, shown, last.day), last),
        tuple(_dots(shown)),
        standing.goal_bpm,
        due_day if due_day is not None and due_day >= today else None,
    )


def _ceilings(
    before: Sequence[PlayedTake], shown: Sequence[PlayedTake], last_day: int
) -> list[CeilingDay]:
    """All days up to `last_day` from one pass over the takes, of days with many takes some: a
    belief of its own for each day would take ten times as long, and differ by less than its
    interval."""
    by_day = _by_day(shown)
    days = [day for day in by_day if day < last_day]
    if not days:
        return []
    most = max(1, MOST_TAKES // len(by_day))
    rows = [*before, *(row for day in days for row in _some(by_day[day], most))]
    tempi = [row.tempo_bpm for row in rows]
    takes = [EarlierTake(r.tempo_bpm, r.clean, r.counted, -r.day) for r in rows]
    beliefs = beliefs_from(min(tempi), max(tempi), THRESHOLD, takes, [-day for day in days])
    return [
        CeilingDay(day, belief.estimate_bpm, *belief.interval_bpm())
        for day, belief in zip(days, beliefs, strict=True)
    ]


def _some(rows: Sequence[PlayedTake], most: int) -> list[PlayedTake]:
    """At most so many, evenly spread from first to last."""
    count = min(len(rows), most)
    return [rows[len(rows) * k // count] for k in range(count)]


def _by_day(rows: Sequence[PlayedTake]) -> dict[int, list[PlayedTake]]:
    found: dict[int, list[PlayedTake]] = {}
    for row in rows:
        found.setdefault(row.day, []).append(row)
    return dict(sorted(found.items()))


def _dots(rows: Sequence[PlayedTake]) -> list[TakeDot]:
    return [
        TakeDot(day + (place + 1) / (len(mine) + 1), row.tempo_bpm, row.passed)
        for day, mine in _by_day(rows).items()
        for place, row in enumerate(mine)
    ]


def climb_words(climb: Climb) -> str:
    """ "Yes: 120 → 132 in two weeks; goal 144, due 14 March."."""
    return f"{_moved(climb)}{_goal(climb)}."


def _moved(climb: Climb) -> str:
    now, before = climb.ceilings[-1], climb.since
    if now is before:
        return f"One day does not tell yet: the ceiling is {now.bpm:.0f}"
    percent = 100 * (now.bpm / before.bpm - 1)
    sure = now.low_bpm > before.bpm or now.bpm > before.high_bpm
    if percent >= MOVED_PERCENT:
        head = "Yes" if sure else "Probably"
    else:
        slower = percent <= -MOVED_PERCENT and now.high_bpm < before.bpm
        head = "No, slower" if slower else "It is where it was"
    span = span_words(now.day - before.day)
    return f"{head}: {before.bpm:.0f} → {now.bpm:.0f} {span}"


def _goal(climb: Climb) -> str:
    if climb.goal_bpm is None:
        return ""
    due = "" if climb.due_day is None else f", due {date_words(climb.due_day)}"
    if climb.ceilings[-1].bpm >= climb.goal_bpm:
        return f"; the goal {climb.goal_bpm:.0f} is reached{due}"
    return f"; goal {climb.goal_bpm:.0f}{due}"
