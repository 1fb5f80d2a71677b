"""What stands at the head of the part: key, meter, clef, transposition, tempo."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from statistics import median
from xml.etree import ElementTree as ET

from coach.core.instrument import Instrument
from coach.core.notation.model import printed_value
from coach.files.musicxmlwrite.tree import child

CLEFS = {"treble": ("G", 2), "bass": ("F", 4), "tenor": ("C", 4)}
# Steps of the scale in so many semitones: a horn in E sounds 8 semitones, 5 steps lower.
STEPS = (0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6)
# Common practice, no source: low brass at concert pitch reads bass clef, and tenor clef where most
# of a passage lies above the first ledger line (D4); others read treble clef, bass clef where most
# lies below two ledger lines (written F3).
LOW_BRASS_BELOW, TENOR_FROM, BASS_BELOW = 48, 63, 53


def key(attributes: ET.Element, fifths: int) -> None:
    child(child(attributes, "key"), "fifths", str(fifths))


def time(attributes: ET.Element, meter: str) -> None:
    """A meter such as "6/8"."""
    count, _, unit = meter.partition("/")
    made = child(attributes, "time")
    child(made, "beats", count)
    child(made, "beat-type", unit)


def clef(attributes: ET.Element, instrument: Instrument, written: Sequence[int]) -> None:
    sign, line = CLEFS[_clef_name(instrument, median(written) if written else None)]
    made = child(attributes, "clef")
    child(made, "sign", sign)
    child(made, "line", str(line))


def _clef_name(instrument: Instrument, middle: float | None) -> str:
    if instrument.transposition == 0 and instrument.lowest < LOW_BRASS_BELOW:
        return "tenor" if middle is not None and middle >= TENOR_FROM else "bass"
    return "bass" if middle is not None and middle < BASS_BELOW else "treble"


def transpose(attributes: ET.Element, semitones: int) -> None:
    """What leads from written to sounding pitch; nothing at concert pitch."""
    if semitones == 0:
        return
    sense = 1 if semitones > 0 else -1
    octaves, rest = divmod(abs(semitones), 12)
    made = child(attributes, "transpose")
    child(made, "diatonic", str(sense * STEPS[rest]))
    child(made, "chromatic", str(sense * rest))
    if octaves:
        child(made, "octave-change", str(sense * octaves))


def metronome(measure: ET.Element, pulse_beats: Fraction, tempo_bpm: float) -> None:
    """So many clicks of `pulse_beats` a minute, to read and to hear."""
    direction = child(measure, "direction", placement="above")
    printed = printed_value(pulse_beats)
    if printed is None:
        raise ValueError(f"no note value lasts {pulse_beats} of a beat")
    mark = child(child(direction, "direction-type"), "metronome")
    child(mark, "beat-unit", printed[0])
    for _ in range(printed[1]):
        child(mark, "beat-unit-dot")
    child(mark, "per-minute", f"{tempo_bpm:.9g}")
    child(
        direction,
        "sound",
        tempo=f"{tempo_bpm * pulse_beats.numerator / pulse_beats.denominator:.9g}",
    )
