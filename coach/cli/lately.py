"""The takes of late: judged again, what they have in common, and the drills for it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from coach.errors import CoachError

if TYPE_CHECKING:
    from coach.core.exercise import Drill, Exercise
    from coach.core.findings import Judged
    from coach.core.instrument import Instrument

TAKES, DRILLS = 12, 8


def weak_spots(book: Any, instrument: Instrument, most: int) -> list[Drill]:
    """Drills for the strongest finding in each of the drills practised last on this instrument."""
    from coach.core.findings import drill_for, find
    from coach.core.warmup import WARMUP

    found = []
    # A warm-up is a dozen drills at a time: they would push out what the player works at.
    worked_at = [n for n in book.drills(instrument.name) if not n.startswith(WARMUP)]
    for name in worked_at[:DRILLS]:
        kept = book.latest(TAKES, name)
        findings = find(judged(kept), fingerings=charted(instrument))
        if findings:
            drill, _ = drill_of(kept[-1])
            found.append((findings[0].chance, drill_for(findings[0], drill)))
    return [drill for _, drill in sorted(found, key=lambda pair: pair[0])[:most]]


def judged(kept: Sequence[Any]) -> list[Judged]:
    """Stored takes (oldest first) judged again by the rules they were played under."""
    from coach.core.findings import Judged
    from coach.core.rejudge import judged_in_order
    from coach.files.configs import load_rules

    reports = judged_in_order([(one.take, load_rules(one.rules)) for one in kept])
    plans = [one.take.plan for one in kept]
    return [
        Judged(plan.exercise, report, plan.rate)
        for plan, report in zip(plans, reports, strict=True)
    ]


def drill_of(kept: Any) -> tuple[Drill, Instrument]:
    """The drill that was played; where its file is gone, what the take says of it."""
    from coach.core.exercise import Drill
    from coach.files.configs import load_instrument
    from coach.files.drillshelf import load_drill

    try:
        return load_drill(kept.drill, instrument=kept.instrument)
    except CoachError:
        exercise = kept.take.plan.exercise
        passage, bpm = exercise.passage, exercise.tempo_bpm
        title = passage.title or kept.drill
        drill = Drill(kept.drill, title, "", (passage,), bpm, bpm, kept.instrument, kept.rules)
        return drill, load_instrument(kept.instrument)


def charted(instrument: Instrument) -> Any:
    """The usual fingerings: what players use who were shown none."""
    from coach.core.fingering.candidates import chart_fingering

    def of(exercise: Exercise) -> Sequence[str | None]:
        if instrument.slide:
            return [None] * len(exercise.passage.notes)
        return [chart_fingering(instrument, note.pitch) for note in exercise.passage.notes]

    return of
