"""What words of tempo ask for: terms as dictionaries of music have them, and what is none."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coach.core.score.tempowords import FASTER, IN_TEMPO, SLOWER, word_of


@pytest.mark.parametrize(
    ("texts", "reach"),
    [
        ("rit.|ritard.|Ritardando|rall.|RALLENTANDO|riten.|dim. e rit.|rit. - - -", SLOWER[1]),
        ("langsamer werdend|allmählich langsamer|zurückhaltend|cédez|poco a poco rit.", SLOWER[1]),
        ("poco rit.|(quasi ritenente)|un poco rall.|etwas zurückhaltend|un peu retenu", SLOWER[0]),
        ("molto rit.|rall. molto|sehr zurückhaltend|poco a poco molto rit.", SLOWER[2]),
        ("accel.|stringendo|string.|schneller werdend|getting faster|sempre più mosso", FASTER[1]),
        ("un poco stringendo|poco string.|poco accel.|nach und nach etwas schneller", FASTER[0]),
        ("molto accel.", FASTER[2]),
        ("a tempo|in tempo, ma più tranquillo [|Tempo I|Tempo primo|Tempo I°|im Zeitmaß|poco a"
         " poco a tempo|L'istesso tempo|rit. a tempo|Adagio non troppo|meno mosso|Più allegro"
         "|langsamer|Lebhaft|au Mouvt", 1),
    ],
)  # fmt: skip
def test_terms(texts, reach):
    assert {text: word_of(text).reach for text in texts.split("|")} == dict.fromkeys(
        texts.split("|"), reach
    )


NONE = (
    "|cresc.|dolce|2nd string|sul D string.|senza rit.|ohne zu verlangsamen|rubato|tempo rubato"
    "|senza tempo|ritmico|Rita|brit.|accent|poco a poco cresc.|1.|sempre più tranquillo"
)


def test_what_is_no_word_of_tempo():
    assert {text: word_of(text) for text in NONE.split("|") if word_of(text)} == {}


def test_how_long_they_last():
    bars = {text: word_of(text).most_bars for text in ("riten.", "rit.", "poco a poco rit.")}
    assert bars == {"riten.": 2, "rit.": 8, "poco a poco rit.": 16}


@given(st.text(max_size=300))
def test_any_text_is_something_or_nothing(text):
    word = word_of(text)
    assert word in (None, IN_TEMPO) or Fraction(1, 2) <= word.reach <= Fraction(3, 2)
