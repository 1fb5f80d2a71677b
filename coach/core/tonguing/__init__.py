"""Tonguing: which syllable each note gets, and why it changed.

Common practice, no source: a front syllable (ta, da) alone up to the rate that the player's tongue
can repeat; above it front and back (ka, ga) by turns, in threes where the beat is in threes.  The
front comes again on the beat, after a rest, a longer note, a slur, and on a note reached by a leap.
"""

from coach.core.tonguing.limit import single_up_to_bpm
from coach.core.tonguing.speak import tongue, with_syllables, without_syllables
from coach.core.tonguing.style import ORDERS, STYLES, Spoken, Style

__all__ = [
    "ORDERS",
    "STYLES",
    "Spoken",
    "Style",
    "single_up_to_bpm",
    "tongue",
    "with_syllables",
    "without_syllables",
]
