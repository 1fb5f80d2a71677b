"""Words and figures that every screen uses; plain strings, nothing drawn."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from coach.core.exercise import Exercise
from coach.core.gate import Gate
from coach.core.naming import note_name
from coach.core.pitch import written_of_sounding
from coach.core.report import Report
from coach.core.take import VERDICTS, Verdict
from coach.core.view import View
from coach.errors import printable as printable


@dataclass(frozen=True, slots=True)
class Spelling:
    """How sounding pitches are written: transposition in semitones (horn in F: -7) and key."""

    transposition: int = 0
    fifths: int = 0

    def name(self, sounding: int) -> str:
        return note_name(written_of_sounding(sounding, self.transposition), self.fifths)


# What is done but not judged, in two lines.
UNJUDGED = {
    "air": ("air alone", "breath, tongue and valves, in time; nothing is judged"),
    "mouthpiece": ("mouthpiece alone", "buzz it in time; nothing is judged"),
}


def own_name(title: str, variant: str) -> str:
    """A variant's name, if the drill's title does not say it already."""
    return "" if variant in title else printable(variant)


def spelling_of(exercise: Exercise) -> Spelling:
    return Spelling(exercise.transposition, exercise.passage.fifths)


@dataclass(frozen=True, slots=True)
class GateCount:
    """How a take stands against the gate: notes judged so far, and how many must be clean."""

    clean: int
    judged: int
    needed: int
    notes: int

    @property
    def may_slip(self) -> int:
        """Faults that the gate still allows; negative when it can't be reached any more."""
        return self.notes - self.needed - (self.judged - self.clean)


def standing_of(verdicts: Sequence[Verdict], gate: Gate, notes: int) -> GateCount:
    """Notes that could not be heard well enough count neither way."""
    counted = [v for v in verdicts if v.kind != "unsure"]
    clean = sum(v.kind == "clean" for v in counted)
    countable = notes - (len(verdicts) - len(counted))
    return GateCount(clean, len(counted), gate.needed(countable), countable)


def percent(share: float) -> str:
    """Rounded down: 89.9 % must not look like a passed gate of 90 %."""
    return f"{math.floor(100 * share + 1e-9)} %"


_SPEEDS = {
    1.0: "full speed",
    0.75: "three quarters of the speed",
    0.5: "half speed",
    0.25: "a quarter of the speed",
}


def speed_words(speed: float) -> str:
    """ "half speed"."""
    return _SPEEDS.get(speed) or f"{speed:g} of the speed"


def deviation_ms(verdict: Verdict, rate: int) -> float | None:
    frames = verdict.deviation_frames
    return None if frames is None else frames * 1000 / rate


def signed(value: float | None) -> str:
    """Whole ms or cents: "+31", "-4", "0" or, for a note that was not heard, nothing."""
    return "" if value is None else f"{round(value):+d}".replace("+0", "0")


def offset_words(offset_ms: float) -> str:
    """ "1 ms behind the click as a whole"."""
    off = round(offset_ms)
    side = "behind" if off > 0 else "ahead of"
    return f"{abs(off)} ms {side} the click as a whole" if off else "on the click as a whole"


def heard_name(verdict: Verdict, spelling: Spelling) -> str:
    """The written name of the pitch that came instead, for a wrong note; else nothing."""
    if verdict.kind != "wrong" or verdict.midi is None:
        return ""
    return spelling.name(verdict.midi)


def fault_line(verdict: Verdict, spelling: Spelling, rate: int) -> str:
    """One fault in words: "note 12 (A4): late by 31 ms"."""
    place = f"note {verdict.index + 1} ({spelling.name(verdict.due.pitch)}): {verdict.kind}"
    off = deviation_ms(verdict, rate)
    if verdict.kind in ("early", "late") and off is not None:
        return f"{place} by {abs(off):.0f} ms"
    other = heard_name(verdict, spelling)
    return f"{place}, heard {other}" if other else place


def counts_line(report: Report) -> str:
    """ "28 clean, 3 late, 1 missed; 1 extra"."""
    counts = report.counts
    named = [f"{counts[kind]} {kind}" for kind in reversed(VERDICTS) if kind in counts]
    extra = f"; {len(report.extra)} extra" if report.extra else ""
    return ", ".join(named) + extra


def outcome_line(view: View) -> str:
    """The take against the gate, and what comes next."""
    report, gate = view.last, view.gate
    if report is None or not view.path:
        return ""
    counted = [v for v in report.verdicts if v.kind != "unsure"]
    clean = sum(v.kind == "clean" for v in counted)
    word = "passed" if report.passed else "not yet"
    return (
        f"{clean} of {len(counted)} clean, {percent(report.accuracy)}; "
        f"gate {percent(gate.threshold)}: {word}. {next_words(view)}"
    )


def next_words(view: View) -> str:
    """Where the tempo goes from the last take of the path."""
    pace, before = view.pace, view.path[-1].tempo_bpm
    if pace.reached:
        return f"The goal of {pace.to_bpm:g} is reached."
    if pace.tempo_bpm > before:
        return f"Next: up to {pace.tempo_bpm:g}."
    if pace.tempo_bpm < before:
        return f"Next: back to {pace.tempo_bpm:g}."
    left = view.gate.passes - pace.passes_in_a_row
    goal = "go up" if pace.tempo_bpm < pace.to_bpm else "finish"
    more = f", {left} more to {goal}" if pace.passes_in_a_row and left > 0 else ""
    return f"Next: {pace.tempo_bpm:g} again{more}."


def part_facts(title: str, view: View) -> tuple[str, str]:
    """A part of a course as name and value: its takes, and how clean they were."""
    takes = len(view.path)
    if not takes:
        return printable(title), "not judged"
    share = sum(taken.accuracy for taken in view.path) / takes
    count = "1 take" if takes == 1 else f"{takes} takes"
    return printable(title), f"{count}, {percent(share)} of the notes clean"


def summary_facts(view: View, reason: str = "") -> list[tuple[str, str]]:
    """The end of a session as names and values: the takes, the tempi, what to work on."""
    path = view.path
    if not path:
        return [("takes", "none was finished")]
    passed = [taken.tempo_bpm for taken in path if taken.passed]
    best = f"{max(passed):g} clicks a minute" if passed else "no take passed the gate yet"
    facts = [
        ("takes", f"{len(path)}, {len(passed)} of them passed the gate"),
        ("tempo", f"from {path[0].tempo_bpm:g} to {path[-1].tempo_bpm:g}"),
        ("fastest take passed", best),
        (_advice_name(view), view.advice),
        ("ended", reason),
    ]
    return [(name, printable(value)) for name, value in facts if value]


def _advice_name(view: View) -> str:
    """After a take without a fault the sentence only tells how it was."""
    faultless = view.last is not None and all(
        verdict.kind in ("clean", "unsure") for verdict in view.last.verdicts
    )
    return "last take" if faultless else "to work on"
