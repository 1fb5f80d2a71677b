"""Which notes need an accidental: it holds for its line or space to the end of the bar."""

from __future__ import annotations

from coach.core.pitch import Spelled
from coach.core.spelling import LETTERS

NAMES = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}


class Accidentals:
    """What holds in one bar so far, by letter and octave."""

    def __init__(self, fifths: int) -> None:
        self._fifths = fifths
        self._held: dict[tuple[str, int], int] = {}

    def needed(self, name: Spelled) -> str | None:
        """The accidental to print before `name` (MusicXML's word), None where it holds anyway."""
        place = (name.letter, name.octave)
        if self._held.get(place, self._of_key(name.letter)) == name.alter:
            return None
        self._held[place] = name.alter
        return NAMES[name.alter]

    def _of_key(self, letter: str) -> int:
        """Sharps come in the order F C G D A E B, flats the other way round."""
        return (self._fifths + 6 - LETTERS.index(letter)) // 7
