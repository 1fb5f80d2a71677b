"""A note against the chord that sounds: where it would be just, where tempered.

The just place is taken above the chord's root by the ratios of `core/tuning`.  The root is the note
of the chord above which all others have the simplest ratios: the smallest product of all their
numerators and denominators; where two are equal, the one with more ratios over a power of two (the
others are then its own overtones), then the one that lies lowest.  So a major triad stands on its
root in every inversion, and so does a dominant seventh; a minor seventh chord is read as the sixth
chord with the same notes, a diminished triad from its middle note.  The root itself is taken as
tempered, as the coach plays it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from coach.core.tuning import JUST_RATIOS, just_cents


@dataclass(frozen=True, slots=True)
class ChordPitch:
    """An own note in the chord: `chord` are the sounding MIDI numbers of the others, `root` the
    lowest note of the chord's root, `semitones` the step above it (0 to 11).

    `tempered_cents` and `just_cents` are how far it was played above the tempered and the just
    place; `target_cents` is how far the just place lies above the tempered one.
    """

    index: int
    bar: int
    pitch: int
    chord: tuple[int, ...]
    root: int
    semitones: int
    tempered_cents: float
    just_cents: float
    target_cents: float


def root_of(pitches: Iterable[int]) -> int:
    """The lowest note of the chord's root, of MIDI numbers; ValueError if there are none."""
    chord = sorted(set(pitches))
    lowest: dict[int, int] = {}
    for pitch in chord:
        lowest.setdefault(pitch % 12, pitch)
    return min(lowest.values(), key=lambda root: _roughness(root, lowest.keys()))


def _roughness(root: int, classes: Iterable[int]) -> tuple[int, int, int]:
    ratios = [JUST_RATIOS[(step - root) % 12] for step in classes]
    product = math.prod(ratio.numerator * ratio.denominator for ratio in ratios)
    foreign = sum(ratio.denominator & (ratio.denominator - 1) != 0 for ratio in ratios)
    return product, foreign, root


def against_chord(
    index: int, bar: int, pitch: int, played: float, chord: Iterable[int]
) -> ChordPitch | None:
    """The note `pitch`, `played` at that fractional MIDI number while `chord` sounds; None where
    nothing else sounds, or only its own octaves."""
    others = tuple(sorted(set(chord)))
    if all((other - pitch) % 12 == 0 for other in others):
        return None
    root = root_of((*others, pitch))
    semitones = (pitch - root) % 12
    target = just_cents(semitones)
    tempered = 100 * (played - pitch)
    return ChordPitch(
        index, bar, pitch, others, root, semitones, tempered, tempered - target, target
    )
