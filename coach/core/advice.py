"""One sentence about a take: the worst thing, where it is, and what to do about it."""

from __future__ import annotations

from collections.abc import Sequence

from coach.core.exercise import Exercise
from coach.core.naming import note_name
from coach.core.pitch import written_of_sounding
from coach.core.report import Report, off_click_words, tempo_off_click
from coach.core.take import Verdict

# In order of what costs a passage most (common practice, no source).
ORDER = ("missed", "wrong", "split", "muffled", "late", "early")


def advice_for(report: Report, exercise: Exercise) -> str:
    """What to do next, naming the note (written pitch) and the milliseconds."""
    unsure = [v for v in report.verdicts if v.kind == "unsure"]
    if len(unsure) > len(report.verdicts) / 3:
        return "I could not hear this take well enough to judge it: try `coach check`."
    ratio = tempo_off_click(report.verdicts)
    if ratio is not None:
        return _off_click(ratio, exercise)
    faults = {kind: [v for v in report.verdicts if v.kind == kind] for kind in ORDER}
    worst = max(ORDER, key=lambda kind: (len(faults[kind]), -ORDER.index(kind)))
    if not faults[worst]:
        return _clean(report)
    if worst in ("late", "early"):
        return _off_time(worst, faults[worst], exercise, report.rate)
    return _SENTENCES[worst](faults[worst], exercise)


def _off_click(ratio: float, exercise: Exercise) -> str:
    """Off the click throughout, nearly every note is late or early: that is one mistake."""
    if ratio > 1:
        return f"{off_click_words(ratio)}: listen to the count-in, and breathe in its tempo."
    kept = f"{exercise.tempo_bpm * ratio:.0f}"
    return f"{off_click_words(ratio)}: play it at {kept}, with the click, before you go faster."


def _clean(report: Report) -> str:
    if report.evenness_cv is not None and report.spread_ms is not None:
        return f"Every note spoke; they lie within {report.spread_ms:.0f} ms of even."
    return "Every note spoke."


def place_of(verdict: Verdict, exercise: Exercise) -> str:
    """ "note 5 (A4)": counted from one, written pitch."""
    written = written_of_sounding(verdict.due.pitch, exercise.transposition)
    return f"note {verdict.index + 1} ({note_name(written, exercise.passage.fifths)})"


def places_of(verdicts: Sequence[Verdict], exercise: Exercise) -> str:
    """The first three places, and how many more."""
    named = [place_of(v, exercise) for v in verdicts[:3]]
    more = len(verdicts) - len(named)
    listed = " and ".join([", ".join(named[:-1]), named[-1]] if len(named) > 1 else named)
    return f"{', '.join(named)} and {more} more" if more > 0 else listed


def _missed(faults: Sequence[Verdict], exercise: Exercise) -> str:
    return (
        f"I did not hear {places_of(faults, exercise)}: play the notes around it slowly, "
        "then the group at tempo, with steady air."
    )


def _wrong(faults: Sequence[Verdict], exercise: Exercise) -> str:
    first = faults[0]
    written = written_of_sounding(first.midi or 0, exercise.transposition)
    got = note_name(written, exercise.passage.fifths)
    it = _it(faults)
    came = got if it == "it" else f"other notes (the first as {got})"
    return (
        f"{_opening(places_of(faults, exercise))} came out as {came}: sing {it}, then slur into"
        f" {it} before tonguing."
    )


def _split(faults: Sequence[Verdict], exercise: Exercise) -> str:
    they = "it" if len(faults) == 1 else "they"
    return (
        f"{_opening(places_of(faults, exercise))} cracked before {they} settled: hear the pitch "
        "before the tongue lets go."
    )


def _muffled(faults: Sequence[Verdict], exercise: Exercise) -> str:
    return (
        f"{_opening(places_of(faults, exercise))} did not speak: keep the air moving through "
        f"{_it(faults)} and lift the weak syllable."
    )


def _off_time(kind: str, faults: Sequence[Verdict], exercise: Exercise, rate: int) -> str:
    """How far off the worst of the late or early notes was."""
    worst = max(faults, key=lambda v: abs(v.deviation_frames or 0))
    off_ms = abs(worst.deviation_frames or 0) * 1000 / rate
    what = (
        f"{_opening(place_of(worst, exercise))} came {off_ms:.0f} ms {kind}{_others(kind, faults)}"
    )
    return f"{what}: {_MENDED[kind]}"


def _opening(words: str) -> str:
    """With a capital first letter, note names left as they are."""
    return words[:1].upper() + words[1:]


def _it(faults: Sequence[Verdict]) -> str:
    return "it" if len(faults) == 1 else "them"


def _others(kind: str, faults: Sequence[Verdict]) -> str:
    more = len(faults) - 1
    return "" if not more else f", and {more} more {'was' if more == 1 else 'were'} {kind}"


_SENTENCES = {
    "missed": _missed,
    "wrong": _wrong,
    "split": _split,
    "muffled": _muffled,
}
_MENDED = {
    "late": "prepare it one note earlier.",
    "early": "give the note before it its time.",
}
