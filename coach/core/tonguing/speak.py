"""Syllables for a passage, each change with its reason in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from coach.core.passage import Note, Passage
from coach.core.tonguing.choices import SyllableChoice, choose
from coach.core.tonguing.strokes import Stroke, strokes_of, threes
from coach.core.tonguing.style import Spoken, Style

SLURRED = "slurred: no tongue"
WRITTEN = "kept as written"
_AGAIN = {
    "rest": "after the rest",
    "slur": "after the slur",
    "long": "after the longer note",
    "beat": "on the beat",
}
_INTERVALS = (
    "",
    "minor second",
    "major second",
    "minor third",
    "major third",
    "fourth",
    "tritone",
    "fifth",
    "minor sixth",
    "major sixth",
    "minor seventh",
    "major seventh",
    "octave",
)


def tongue(passage: Passage, tempo_bpm: float, style: Style | None = None) -> tuple[Spoken, ...]:
    """One `Spoken` a note, at `tempo_bpm` pulses a minute (> 0, else ValueError).

    Syllables that notes already have are kept, and the pattern goes on from them.
    """
    if not (math.isfinite(tempo_bpm) and tempo_bpm > 0):
        raise ValueError("the tempo must be above 0")
    style = style or Style()
    strokes = strokes_of(passage, tempo_bpm, style)
    choices = choose(strokes, style, threes(strokes, passage, style))
    spoken = {stroke.index: _spoken(k, strokes, choices, style) for k, stroke in enumerate(strokes)}
    return tuple(
        spoken.get(index) or _slurred(passage.notes, index) for index in range(len(passage.notes))
    )


def with_syllables(passage: Passage, spoken: Sequence[Spoken]) -> Passage:
    """The passage with the syllables on its notes, for a screen or a drill to show."""
    notes = list(passage.notes)
    for said in spoken:
        notes[said.index] = replace(notes[said.index], syllable=said.syllable)
    return replace(passage, notes=tuple(notes))


def without_syllables(passage: Passage) -> Passage:
    """The passage with no syllable set, so that all are chosen anew."""
    return replace(passage, notes=tuple(replace(note, syllable=None) for note in passage.notes))


def _slurred(notes: Sequence[Note], index: int) -> Spoken:
    first = index == 0 or not notes[index - 1].slurred
    return Spoken(index, None, SLURRED if first else "")


def _spoken(
    k: int, strokes: Sequence[Stroke], choices: Sequence[SyllableChoice], style: Style
) -> Spoken:
    stroke, choice = strokes[k], choices[k]
    before = choices[k - 1].mode if k else None
    words = [_mode_words(k, strokes, choices, style)] if choice.mode != before else []
    syllable = stroke.note.syllable or style.syllable(choice.back)
    if choice.cause == "written":
        words.append(WRITTEN)
    elif choice.back != choice.natural and (not words or choice.cause not in _AGAIN):
        words.append(_change_words(choice, stroke))
    return Spoken(stroke.index, syllable, "; ".join(words))


def _change_words(choice: SyllableChoice, stroke: Stroke) -> str:
    if choice.back:
        return "back on the beat"
    if choice.cause == "leap":
        return f"front after the leap ({_interval(stroke.leap)})"
    if choice.cause == "twice":
        return "front: never two backs running"
    if choice.cause == "next":
        return "front: a back is written on the next note"
    return f"front again {_AGAIN[choice.cause]}"


def _interval(semitones: int) -> str:
    return _INTERVALS[semitones] if semitones < len(_INTERVALS) else "over an octave"


def _mode_words(
    k: int, strokes: Sequence[Stroke], choices: Sequence[SyllableChoice], style: Style
) -> str:
    """Why this kind of tonguing begins at stroke `k`."""
    mode, before = choices[k].mode, choices[k - 1].mode if k else None
    if style.force == "single":
        return _all_single(max(stroke.rate_hz for stroke in strokes), style)
    if mode == "single":
        return f"single: no run over {style.single_limit_hz:g} notes a second"
    kind = f"triple, {_order_words(style)}" if mode == "triple" else "double"
    if before in ("double", "triple"):
        return f"{kind}: {'notes in threes' if mode == 'triple' else 'no threes here'}"
    if style.back_on_beat:
        return f"{kind}: the back on the beat"
    if style.force:
        return f"{kind}: as asked"
    return f"{kind}: {_rate_words(_run_hz(k, strokes), style)}"


def _all_single(fastest_hz: float, style: Style) -> str:
    if style.back_on_beat:
        return "single: the back alone, to strengthen it"
    over = fastest_hz > style.single_limit_hz
    return f"single: as asked{f', {_rate_words(fastest_hz, style)}' if over else ''}"


def _rate_words(rate_hz: float, style: Style) -> str:
    return f"{rate_hz:.3g} notes a second, single goes to {style.single_limit_hz:g}"


def _order_words(style: Style) -> str:
    if style.alternates:
        return f"{style.front} {style.back} by turns over the beats"
    order = style.order
    if style.back_on_beat:
        order = "ktt" if order == "ttk" else "ktk"
    return " ".join(style.syllable(letter == "k") for letter in order)


def _run_hz(k: int, strokes: Sequence[Stroke]) -> float:
    """The fastest pair of strokes in the run of stroke `k`."""
    start = end = k
    while strokes[start].linked:
        start -= 1
    while end + 1 < len(strokes) and strokes[end + 1].linked:
        end += 1
    return max((s.rate_hz for s in strokes[start + 1 : end + 1]), default=strokes[k].rate_hz)
