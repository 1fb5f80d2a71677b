"""What a teacher sets: drills to bring to a tempo by a day."""

from __future__ import annotations

from dataclasses import dataclass

from coach.core.planning.goals import Goal


@dataclass(frozen=True, slots=True)
class Assignment:
    """`uid` names it wherever it is copied to; `words` are the teacher's to the player; `due_day`
    as `date.toordinal`, None for no day; `goals` one a drill."""

    uid: str
    title: str
    teacher: str
    words: str
    due_day: int | None
    goals: tuple[Goal, ...]
