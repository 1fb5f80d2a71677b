"""How long notes are, exactly, and where they stand in the bar."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from xml.etree.ElementTree import Element

from coach.core.notation.model import VALUES
from coach.files.musicxml import limits
from coach.files.musicxml.place import Place
from coach.files.musicxml.values import number_of

_ZERO = Fraction(0)
# Longer than any that we write: a maxima has eight whole notes.
TYPES = {"maxima": Fraction(32), "long": Fraction(16), "breve": Fraction(8), **VALUES}


@lru_cache(maxsize=4096)
def typed_beats(type_name: str, dots: int) -> Fraction | None:
    """Length of a printed note value with its dots, in quarter notes."""
    plain = TYPES.get(type_name.strip())
    if plain is None or dots > 8:
        return None
    return plain * (2 - Fraction(1, 2**dots))


@lru_cache(maxsize=4096)
def _beats(text: str | None, divisions: Fraction) -> Fraction | None:
    number = number_of(text)
    return None if number is None else number / divisions


def given_beats(text: str | None, divisions: Fraction, place: Place) -> Fraction:
    """A <duration> in quarter notes; FileError if it is none."""
    beats = _beats(text, divisions)
    if beats is None or not 0 <= beats <= limits.MAX_BEATS:
        raise place.error(f"a duration of {(text or 'nothing')[:20]!r} makes no sense")
    return beats


def _printed(tags: dict[str, Element], dots: int) -> Fraction | None:
    """What type, dots and tuplet say."""
    kind = tags.get("type")
    beats = None if kind is None else typed_beats(kind.text or "", dots)
    ratio = tags.get("time-modification")
    if beats is None or ratio is None:
        return beats
    factor = _factor(ratio.findtext("actual-notes"), ratio.findtext("normal-notes"))
    return beats if factor is None else beats * factor


@lru_cache(maxsize=4096)
def _factor(actual_text: str | None, normal_text: str | None) -> Fraction | None:
    actual, normal = number_of(actual_text), number_of(normal_text)
    if not actual or not normal or not 0 < actual < 10_000 or not 0 < normal < 10_000:
        return None
    return normal / actual


def note_beats(
    tags: dict[str, Element], dots: int, divisions: Fraction, place: Place
) -> tuple[Fraction, Fraction]:
    """Length as the file counts, and the exact one.

    They differ where a tuplet does not fit into the divisions and was rounded there.
    """
    duration = tags.get("duration")
    if duration is None:
        printed = _printed(tags, dots)
        if printed is None:
            raise place.error("a note has neither a duration nor a note value")
        return printed, printed
    given = given_beats(duration.text, divisions, place)
    if "time-modification" not in tags:
        return given, given
    printed = _printed(tags, dots)
    if printed is None or printed == given or abs(printed - given) * divisions >= 1:
        return given, given
    return given, printed


class Clock:
    """Where in the bar the reader is: as the file counts (`raw`), and exactly.

    Going back, the file counts in its rounded durations; the exact place is the one that was
    passed at that count.
    """

    __slots__ = ("_passed", "_place", "exact", "furthest", "raw")

    def __init__(self, place: Place) -> None:
        self.raw = self.exact = self.furthest = _ZERO
        self._passed: dict[Fraction, Fraction] = {}
        self._place = place

    def forward(self, raw: Fraction, exact: Fraction) -> None:
        together = self.raw is self.exact and raw is exact
        self.raw += raw
        self.exact = self.raw if together else self.exact + exact
        if not together and self.raw != self.exact:
            self._passed[self.raw] = self.exact
        if self.exact > self.furthest:
            self.furthest = self.exact
        self._check()

    def back(self, raw: Fraction) -> None:
        if raw > self.raw:
            self._place.count("Steps back to before the bar, taken to its start")
        self.raw = max(_ZERO, self.raw - raw)
        self.exact = self._passed.get(self.raw, self.raw)

    def _check(self) -> None:
        if self.exact > limits.MAX_BEATS:
            raise self._place.error(f"the bar is longer than {limits.MAX_BEATS} quarter notes")
        if max(self.exact.denominator, self.raw.denominator) > limits.MAX_DENOMINATOR:
            raise self._place.error("the durations in the bar do not fit together")
