"""The tempo at which single tonguing ends in a passage."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from coach.core.passage import Passage
from coach.core.tonguing.choices import choose
from coach.core.tonguing.speak import without_syllables
from coach.core.tonguing.strokes import strokes_of, threes
from coach.core.tonguing.style import Style

JUST_ABOVE = 1 + 1e-6


def single_up_to_bpm(passage: Passage, style: Style) -> float | None:
    """Pulses a minute up to which the front syllable alone will do; None if it always does.

    Slow enough at limit * 60 * d / pulse for neighbours d beats apart: tried from the closest on,
    because two quick notes by themselves need no back syllable.
    """
    passage = without_syllables(passage)
    style = replace(style, force=None, back_on_beat=False)
    apart = {b.start_beats - a.start_beats for a, b in pairwise(passage.notes) if not b.slurred}
    for beats in sorted(apart):
        tempo_bpm = style.single_limit_hz * 60 * float(beats / passage.pulse_beats)
        strokes = strokes_of(passage, tempo_bpm * JUST_ABOVE, style)
        choices = choose(strokes, style, threes(strokes, passage, style))
        if any(choice.mode != "single" for choice in choices):
            return tempo_bpm
    return None
