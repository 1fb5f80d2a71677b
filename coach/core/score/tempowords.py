"""Words of tempo: what "poco rit.", "stringendo", "langsamer werdend" or "a tempo" ask for.

How far a change goes and how many bars it lasts at most where nothing ends it is common practice,
no source: a plain one to 0.7 or 1.25 of the tempo and over eight bars, "poco" and "molto" less and
more, "poco a poco" longer, and what is held back (ritenuto) for two bars.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction

LONGEST_TEXT = 200
# The share of the tempo that is reached: light, plain, deep.
SLOWER = (Fraction(17, 20), Fraction(7, 10), Fraction(1, 2))
FASTER = (Fraction(11, 10), Fraction(5, 4), Fraction(3, 2))
HELD_BARS, USUAL_BARS, LONG_BARS = 2, 8, 16


@dataclass(frozen=True, slots=True)
class TempoWord:
    """A gradual change to `reach` times the tempo within `most_bars`; 1: the tempo holds at once
    ("a tempo", or the name of a tempo)."""

    reach: Fraction
    most_bars: int = 0


IN_TEMPO = TempoWord(Fraction(1))


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


_HELD = _set("riten ritenuto ritenente retenu zuruckgehalten")
_SLOWING = _HELD | _set(
    "rit ritard ritardando ritardare rall rallent rallentando rallentare slentando slargando"
    " allarg allargando ralentir ralentissant retenant cedez cedant verlangsamen verlangsamend"
    " verlangsamt zuruckhalten zuruckhaltend slowing"
)
_HURRYING = _set(
    "accel acceler accelerando stringendo affrett affrettando accelerer accelerant accelerez"
    " pressez pressant serrez serrant animant beschleunigen beschleunigend beschleunigt drangend"
    " eilend treibend hurrying"
)
_MORE_SLOWLY = ("langsamer", "breiter", "slower", "piu lento", "meno mosso", "plus lent")
_MORE_QUICKLY = ("schneller", "faster", "piu mosso", "piu presto", "piu animato", "plus vite")
_LITTLE_BY_LITTLE = (
    "poco a poco", "peu a peu", "nach und nach", "allmahlich", "gradually", "little by little",
)  # fmt: skip
_BECOMING = (
    *_LITTLE_BY_LITTLE, "werdend", "werden", "immer", "getting", "sempre", "de plus en plus",
)  # fmt: skip
_LIGHT = (
    "poco", "pochiss", "pochissimo", "quasi", "etwas", "wenig", "leicht", "un peu", "slightly",
    "a little",
)  # fmt: skip
_DEEP = ("molto", "assai", "sehr", "viel", "stark", "tres", "beaucoup", "very", "much")
_NOT = ("senza", "non", "ohne", "nicht", "kein", "sans", "without", "no")
_BACK = (
    "a tempo", "in tempo", "im tempo", "tempo primo", "tempo i", "tempo 1", "tempo imo",
    "tempo 1mo", "tempo io", "tempo 1o", "im zeitmass", "hauptzeitmass", "erstes zeitmass",
    "au mouvement", "au mouvt", "istesso tempo", "stesso tempo",
)  # fmt: skip
_NAMES = _set(
    "tempo grave largo larghetto lento adagio adagietto andante andantino moderato allegretto"
    " allegro vivace vivacissimo presto prestissimo mosso zeitmass massig langsam langsamer"
    " schnell schneller lebhaft bewegt mouvement lent vif slower faster"
)
_WHOLLY_FREE = ("rubato", "senza tempo")
# "string." may be a string of a violin, but for where it stands alone.
_ROUND_STRING = _set("string poco un molto sempre piu cresc e ed a")


def word_of(text: str) -> TempoWord | None:
    """What a direction in a score says of the tempo; None if nothing."""
    words = _words(text)
    said = f" {' '.join(words)} "
    if _any(_BACK, said) and not _any(_WHOLLY_FREE, said):
        return IN_TEMPO
    steps = _steps(words, said)
    if steps:
        return (
            None if _any(_NOT, said) else TempoWord(steps[_degree(said)], _most_bars(words, said))
        )
    named = not _NAMES.isdisjoint(words) and not _any(_WHOLLY_FREE, said)
    return IN_TEMPO if named else None


def _words(text: str) -> list[str]:
    """In small letters without accents; "string." is written out."""
    plain = unicodedata.normalize("NFKD", text[:LONGEST_TEXT].casefold())
    letters = "".join(one for one in plain if not unicodedata.combining(one))
    words = re.findall(r"[a-z0-9]+", letters)
    if "string." in letters and _ROUND_STRING.issuperset(words):
        words = ["stringendo" if word == "string" else word for word in words]
    return words


def _any(phrases: tuple[str, ...], said: str) -> bool:
    return any(f" {phrase} " in said for phrase in phrases)


def _steps(words: list[str], said: str) -> tuple[Fraction, ...]:
    """How far it goes (light, plain, deep); empty if it is no gradual change."""
    becoming = _any(_BECOMING, said)
    if not _SLOWING.isdisjoint(words) or (becoming and _any(_MORE_SLOWLY, said)):
        return SLOWER
    if not _HURRYING.isdisjoint(words) or (becoming and _any(_MORE_QUICKLY, said)):
        return FASTER
    return ()


def _degree(said: str) -> int:
    for phrase in _LITTLE_BY_LITTLE:
        said = said.replace(f" {phrase} ", " ")
    return 2 if _any(_DEEP, said) else 0 if _any(_LIGHT, said) else 1


def _most_bars(words: list[str], said: str) -> int:
    if _any(_LITTLE_BY_LITTLE, said):
        return LONG_BARS
    return USUAL_BARS if _HELD.isdisjoint(words) else HELD_BARS
