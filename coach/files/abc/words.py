"""Lines of words (w:) under the notes: kept where they are syllables of the tongue."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from coach.files.abc.stream import Event

# As many spellings as there are teachers (common practice, no source).  Words of a song are lyrics.
FRONTS = ("t", "d", "k", "g", "l", "n", "r", "th", "dh")
VOWELS = ("a", "e", "i", "o", "u", "ah", "eh", "ee", "oo", "oh", "uh", "aa", "oe", "ue")
ENDS = ("", "t", "h", "m", "n")
_SYLLABLES = frozenset(f + v + e for f in FRONTS for v in VOWELS for e in ENDS)
_PIECE = re.compile(r"\\-|[-_*|]|\s+|[^-_*|\s\\]+|\\")


def is_tongued(text: str) -> bool:
    return text in _SYLLABLES


def add_words(text: str, told: Sequence[tuple[Event, int]]) -> bool:
    """Puts the syllables under the notes; False, and nothing done, if they are not the tongue's.

    `told` are notes with the number of their bar.  "-" and space part syllables, "_" holds one,
    "*" leaves a note out, "|" goes on at the next bar.
    """
    pieces = list(_pieces(text))
    syllables = [piece for piece in pieces if piece not in ("_", "*", "|", "")]
    if not all(is_tongued(piece.casefold()) for piece in syllables):
        return False
    at = 0
    for piece in pieces:
        if piece == "|":
            at = _next_bar(told, at)
        elif at < len(told):
            if piece not in ("_", "*", ""):
                told[at][0].tones[0].syllable = piece.casefold()
            at += 1
    return True


def _pieces(text: str) -> Iterator[str]:
    """Syllables, and the signs "_", "*", "|"; "" where a hyphen stands alone and skips a note."""
    word, before = "", " "
    for piece in _PIECE.findall(text):
        if piece == "\\-" or (piece[0] not in "-_*|" and not piece.isspace()):
            word += piece.replace("\\", "")
        else:
            if word:
                yield word
            if piece in ("_", "*", "|"):
                yield piece
            elif piece == "-" and not word and (before == "-" or before.isspace()):
                yield ""
            word = ""
        before = piece
    if word:
        yield word


def _next_bar(told: Sequence[tuple[Event, int]], at: int) -> int:
    """The first note after the bar of the note before `at`."""
    if not told:
        return at
    bar = told[at - 1][1] if at else told[0][1] - 1
    while at < len(told) and told[at][1] <= bar:
        at += 1
    return at
