"""A month of an invented player in a practice book, made without sound: a passage with
fingerings and syllables that gets faster and has one note that always comes late, another one with
a wrong note, rest days, a softer back syllable, one slow finger move.  All figures are invented.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from random import Random

from coach.book.practice import PracticeBook
from coach.book.rows import Moment
from coach.cli.lately import charted
from coach.core.exercise import Drill, Exercise
from coach.core.findings.facts import is_back
from coach.core.fingering.candidates import chart_fingering
from coach.core.fingering.moves import move_between
from coach.core.instrument import Instrument
from coach.core.planning.goals import Goal
from coach.core.profile.tallies import move_name, tallies_of
from coach.core.rejudge import judged_again
from coach.core.take import Attack, Take
from coach.core.timeline import Due, plan_take
from coach.files.configs import load_rules
from coach.files.drillshelf import load_drill

RATE = 48_000
REST = (3, 4, 10, 11, 12, 17, 24)
LATE_NOTE, WRONG_NOTE, LATE_MS = 6, 11, 26.0
SLOW_MOVE, SLOW_MS, USUAL_MS = "1>2", 24.0, 4.0
BACK_DB = -3.5
# The goals of the first passages are due in so many days.
DUE = (16, 60)


@dataclass(frozen=True)
class Worked:
    """A drill by name, how it is fingered, from what ceiling to what, first played so many days
    ago, so many takes a day."""

    drill: str
    from_bpm: float
    to_bpm: float
    since: int
    takes: int


PASSAGES = (
    Worked("ta-ka-groups", 96, 128, 26, 6),
    Worked("written-out", 84, 92, 13, 4),
    Worked("arpeggios", 76, 74, 20, 3),
    Worked("chromatic-runs", 100, 100, 0, 2),
)


class DatedBook(PracticeBook):
    """A book in which it is the day that the test says."""

    day = 0

    def moment(self) -> Moment:
        return Moment(f"{date.fromordinal(self.day).isoformat()}T12:00:00.000Z", self.day)


def keep_month(path: Path, today: int, passages=PASSAGES, title: str | None = None) -> None:
    """Fill the book at `path`; `title` is the first passage's, if given."""
    random = Random(11)
    loaded = [(worked, *_loaded(worked.drill)) for worked in passages]
    if title is not None:
        worked, drill, horn = loaded[0]
        named = replace(drill.variants[0], title=title)
        loaded[0] = worked, replace(drill, name="mine", title=title, variants=(named,)), horn
    with DatedBook(path) as book:
        for ago in range(27, -1, -1):
            if ago in REST:
                continue
            book.day = today - ago
            book.begin_session("drill")
            for worked, drill, horn in loaded:
                if ago <= worked.since:
                    _day(book, worked, drill, horn, ago, random)
        for (_, drill, _), due in zip(loaded, DUE, strict=False):
            book.diary.set_goal(Goal(drill.name, drill.instrument, drill.to_bpm, today + due))


def _loaded(name: str) -> tuple[Drill, Instrument]:
    drill, horn = load_drill(name)
    passage = drill.variants[0]
    if not any(note.fingering for note in passage.notes):
        notes = (replace(n, fingering=chart_fingering(horn, n.pitch)) for n in passage.notes)
        passage = replace(passage, notes=tuple(notes))
    return replace(drill, variants=(passage,)), horn


def _day(book, worked, drill, horn, ago: int, random: Random) -> None:
    way = 1 - ago / max(1, worked.since)
    ceiling = worked.from_bpm + (worked.to_bpm - worked.from_bpm) * way
    for number in range(1, worked.takes + 1):
        bpm = round(ceiling * random.uniform(0.86, 1.16))
        take = take_of(drill.variants[0], horn, bpm, ceiling, number, random)
        report = judged_again(take, load_rules("normal"))
        exercise = take.plan.exercise
        tallies = tallies_of(report, exercise, charted(horn)(exercise), book.day)
        book.append(take, report, drill, tallies)


def take_of(
    passage, horn: Instrument, bpm: float, ceiling_bpm: float, number: int, random: Random
) -> Take:
    """One take: the faster against the ceiling, the wilder."""
    plan = plan_take(Exercise(passage, bpm, horn.transposition), RATE, 2 * RATE)
    wild = (bpm / ceiling_bpm) ** 9
    offset_ms = random.gauss(9, 4)
    attacks = (_attack(plan.dues, k, passage, wild, offset_ms, random) for k in plan.dues)
    return Take(number, plan, tuple(a for a in attacks if a is not None), (), True)


def _attack(
    dues: tuple[Due, ...], due: Due, passage, wild: float, offset_ms: float, random: Random
) -> Attack | None:
    note, chance = passage.notes[due.index], random.random()
    late_ms = offset_ms + random.gauss(0, 6.5 * wild)
    if due.index == LATE_NOTE and random.random() < 0.7:
        late_ms += LATE_MS
    if due.index == WRONG_NOTE and random.random() < 0.4:
        return _sounding(due, late_ms, due.pitch + 3, random, note)
    if chance < 0.012 * wild:
        return None
    settle = round(0.03 * RATE) if chance < 0.03 * wild else 0
    lag = _lag_frames(passage, due.index, random)
    attack = _sounding(due, late_ms, due.pitch, random, note)
    return replace(attack, settle_frames=settle, lag_frames=lag)


def _sounding(due: Due, late_ms: float, pitch: float, random: Random, note) -> Attack:
    level = -20 + random.gauss(0, 1.2) + (BACK_DB if is_back(note.syllable or "") else 0)
    frame = due.frame + round(late_ms * RATE / 1000)
    return Attack(frame, float(pitch), level, 480, fine=True, due=due.index, muffled=0.0)


def _lag_frames(passage, index: int, random: Random) -> int | None:
    if index == 0:
        return None
    move = move_between(passage.notes[index - 1].fingering, passage.notes[index].fingering)
    if move is None or not (move.ups or move.downs or move.thumb):
        return None
    usual = SLOW_MS if move_name(move) == SLOW_MOVE else USUAL_MS
    return round(random.gauss(usual, 5) * RATE / 1000)
