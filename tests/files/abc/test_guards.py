"""Any bytes give a score or one FileError with the line, in bounded time."""

from __future__ import annotations

import random

import pytest

from coach.core.score.model import Score
from coach.errors import FileError
from coach.files.abc import read_abc
from tests.files.abc.making import heads, names, read, tune

FULL = """%abc-2.1
X:1
T:Everything % at once
C:Nobody
M:6/8
L:1/8
Q:"Lively" 3/8=96
V:1 name="First \xe4" clef=treble transpose=-7
V:2 nm="Second" clef=bass-8 octave=-1
K:F#m
V:1
A2 |: !segno!(G>^A B) .c{/d}[CE-G]2- [CEG]2 (3ABc (5:4:5 fedcB | "^T12"L_e'2,, z/ x// =f- f |1,3
w: ta ka- da * _ | la
[K:D dor][M:2+3/8][L:1/16][Q:1/4=90] ~u.a & c4 Z2 :|2 y2 (D(E)F) !D.S.alcoda! || !coda! H^^g__a|]
V:2
C,6 | Z4 |
+:more

X:2
K:none
C
"""


def said(data: bytes) -> Score | FileError:
    try:
        return read_abc(data, "some.abc")
    except FileError as caught:
        error = caught
    assert str(error).startswith("some.abc"), str(error)
    assert len(str(error)) < 300
    return error


@pytest.mark.parametrize(
    ("music", "line", "what"),
    [
        ("C1000000000", 6, "a length"),
        ("C99999999", 6, "longer than any note"),
        ("C/0", 6, "divided by 0"),
        ("C0", 6, "the length 0"),
        ("C" + "/" * 50, 6, "too many digits or slashes"),
        ("C D\n[CEG", 7, "a chord is not closed"),
        ("[CE|G]", 6, "a chord is not closed"),
        ("{gf", 6, "grace notes are not closed"),
        ('C "^T12 D', 6, "a quotation mark is not closed"),
        ("(0CDE", 6, "tuplet"),
        ("(99999CDE", 6, "tuplet"),
        ("(3:0:3CDE", 6, "tuplet"),
        ("(3:2:999CDE", 6, "tuplet"),
        ("(3(3(3(3(3CDE", 6, "nested"),
        ("Z999999999", 6, "rest"),
        ("Z0", 6, "rest"),
        ("C,,,,,,,,,", 6, "no instrument has the note"),
        ("[" + "CEG" * 40_000 + "]", 6, "a chord has more than 64 notes"),
        ("C &" * 20, 6, "overlays"),
        ("[0 C", 6, "ending"),
        ("[9-1 C", 6, "ending"),
        ("[V:]C", 6, "V: names no voice"),
        ("K:X", 6, "no key"),
        ("[K:C octave=99]C", 6, "octave"),
        ("K:G#", 6, "signature"),
        ("M:4/5", 6, "meter"),
        ("M:0/4", 6, "meter"),
        ("L:1/7", 6, "unit of length"),
        ("C D " * 101_000, 6, "signs"),
        ("C|" * 30_000, 6, "bars"),
        ("\n".join(f"[V:{n}]C" for n in range(10_000)), 70, "voices"),
    ],
)
def test_mistakes_are_named_with_their_line(music, line, what):
    with pytest.raises(FileError) as caught:
        read(tune(music))
    assert caught.value.where == f"tune.abc, line {line}"
    assert what in caught.value.what


def test_denominators_that_have_no_common_measure():
    primes = [1009, 1013, 1019, 1021, 1031, 1033, 1039, 1049, 1051, 1061]
    for music in ("".join(f"C/{p}" for p in primes), "|".join(f"C/{p}" for p in primes)):
        with pytest.raises(FileError, match="common measure"):
            read(tune(music))


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\n\n\n",
        b"\xef\xbb\xbf",
        b"Dear reader, this is a letter.\nK and so on\n",
        b"#include <stdio.h>\nint main(void) { return 0; }\n",
        b"MThd\0\0\0\6\0\1\0\1\1\xe0",
        bytes(range(256)),
        tune("CDE").encode("utf-16"),
        tune("CDE").encode("utf-16-le"),
        b"X:1\nT:No key\nM:4/4\nCDEF|\n",
        b"X:1\nK:C\n",
        b"X:1\nK:C\nz4|]\n",
        b"X:" * 100_000,
        b"%" * 9_000_000,
    ],
)
def test_what_is_no_abc(data):
    assert isinstance(said(data), FileError)


def test_a_byte_order_mark_and_latin_1():
    assert names(read_abc(b"\xef\xbb\xbf" + tune("CD").encode(), "x")) == "C4 D4"
    assert (
        read_abc(tune("CD").replace("Invented", "\xdcbung").encode("latin-1"), "x").title == "Übung"
    )


def test_lone_marks_do_no_harm():
    assert names(read(tune("C ! D ) ( E ] F : G } A"))) == "C4 D4 E4 F4 G4 A4"


def test_the_full_tune_is_read_and_every_beginning_of_it_is_read_or_refused():
    data = FULL.encode()
    score = said(data)
    assert isinstance(score, Score)
    assert [part.name for part in score.parts] == ["First ä", "Second"]
    assert len(heads(score)) > 20
    for end in range(len(data)):
        said(data[:end])
        said(data[end:])


def test_changed_bytes_are_read_or_refused():
    rng = random.Random(6)
    signs = list("()[]{}|:\"!'<>&-^_=,/%\\\n\rXKMLQVwZzxy+0123456789ABCdefg~.")
    for _ in range(1500):
        text = list(FULL)
        for _ in range(rng.randint(1, 12)):
            at = rng.randrange(len(text))
            choice = rng.random()
            if choice < 0.4:
                text[at] = rng.choice(signs)
            elif choice < 0.7:
                text.insert(at, rng.choice(signs) * rng.choice((1, 1, 2, 9)))
            elif choice < 0.9:
                del text[at : at + rng.randint(1, 9)]
            else:
                start = rng.randrange(len(text))
                text[at:at] = text[start : start + 30]
            text = text or ["X"]
        said("".join(text).encode())


ENDLESS = """( ) { } [ ] " ! !a + : | [| & - (3 > C> [K:C] [K: [V:1] [1 C( (C C- y ^ [C {g} z |: \\
C, w:ta~ C~w:ta~ V:1~ ~ %%begintext~ X:1~K:C~C~~ K:C_ __"""


@pytest.mark.parametrize("piece", [p.replace("~", "\n").replace("_", " ") for p in ENDLESS.split()])
def test_fifteen_thousand_times_the_same_is_no_trouble(piece):
    """No step of the reader may take ever longer: the whole run ends in seconds, not in hours."""
    said(tune(piece * 15_000).encode())
    said(tune("C", key=piece * 15_000).encode())
