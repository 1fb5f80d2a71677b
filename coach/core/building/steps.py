"""The steps of speed building by name, and the parts they become."""

from __future__ import annotations

from collections.abc import Callable

from coach.core.building import pieces
from coach.core.building.made import Made, still
from coach.core.building.today import Today
from coach.core.course import CoursePart
from coach.core.exercise import Drill
from coach.core.gate import Gate

SHORTEST_REST_BEATS = 2
Maker = Callable[[Today, int], Made | None]


def part_of(step: str, today: Today, turn: int) -> CoursePart | None:
    """The part of a step, takes and rests still to be filled in; None where the passage is too
    short for it.  `turn` lets steps with several forms take the next one.

    Steps with the whole passage as it stands keep the drill's name, so that their takes count
    for it.
    """
    whole = step in _WHOLE
    standing = today if whole else today.at(turn)
    made = (_WHOLE | _PIECES)[step](standing, turn)
    if made is None or not made.variants:
        return None
    drill, where = today.drill, "" if whole else standing.where
    subject = " ".join(filter(None, (f'"{drill.title}"', where, made.why)))
    return CoursePart(_drill(step, today, made), 1, 0.0, f"{subject}.")


def _drill(step: str, today: Today, made: Made) -> Drill:
    drill, moved = today.drill, today.instrument.transposition
    return Drill(
        drill.name if step in _COUNTING else f"{drill.name}-{step}",
        f"{drill.title}: {made.what}",
        made.about,
        tuple(passage.transposed(moved) for passage in made.variants),
        made.from_bpm,
        made.to_bpm,
        drill.instrument,
        drill.rules,
        rest_beats=SHORTEST_REST_BEATS,
        gate=Gate(drill.gate.threshold),
        click=drill.click,
    )


def _gate(today: Today, _: int) -> Made:
    from_bpm = min(today.pieces_bpm, today.aim_bpm)
    return Made(
        "the whole, faster when clean",
        "The whole passage; the metronome moves on only after a clean take.",
        f"whole from {from_bpm:g} towards {today.aim_bpm:g}, faster only after a clean take: what"
        " was mostly clean today is there tomorrow",
        today.passages,
        from_bpm,
        today.aim_bpm,
    )


def _above(today: Today, _: int) -> Made:
    return still(
        "above the goal",
        "The whole passage a little faster than it will ever be asked for.",
        f"whole at {today.above_bpm:g}, above the goal: after that {today.to_bpm:g} feels broad",
        today.passages,
        today.above_bpm,
    )


def _end(today: Today, _: int) -> Made:
    what, why = "at the goal", f"whole at {today.to_bpm:g}, the goal, as it is to go from now on"
    if not today.last:
        what = "the whole, to end well"
        why = f"whole at {today.end_bpm:g}, well within what goes: the day ends on a success"
    about = "The whole passage, as if somebody were listening."
    return still(what, about, why, today.passages, today.end_bpm)


# Steps on the whole passage; those at its own tempo count as takes of it.
_WHOLE: dict[str, Maker] = {"slow": pieces.slow, "gate": _gate, "above": _above, "end": _end}
_COUNTING = ("gate", "above", "end")
_PIECES: dict[str, Maker] = {
    "rhythms": pieces.rhythms,
    "exchanges": pieces.exchanges,
    "slurs": pieces.slurs,
    "tongue": pieces.tongue,
    "windows": pieces.windows,
    "bursts": pieces.bursts,
    "contrast": pieces.contrast,
    "adding": pieces.adding,
    "accents": pieces.accents,
}
