"""Big digits and note letters from half blocks: two pixels a character cell, one above the other.

Glyphs are six pixels high, three rows of text (or six, at scale 2).
"""

from __future__ import annotations

from functools import lru_cache

_GLYPHS = {
    "0": ".##. #..# #..# #..# #..# .##.",
    "1": ".#. ##. .#. .#. .#. ###",
    "2": "###. ...# ..#. .#.. #... ####",
    "3": "###. ...# .##. ...# ...# ###.",
    "4": "#..# #..# #..# #### ...# ...#",
    "5": "#### #... ###. ...# ...# ###.",
    "6": ".##. #... ###. #..# #..# .##.",
    "7": "#### ...# ..#. ..#. .#.. .#..",
    "8": ".##. #..# .##. #..# #..# .##.",
    "9": ".##. #..# #..# .### ...# .##.",
    "A": ".##. #..# #..# #### #..# #..#",
    "B": "###. #..# ###. #..# #..# ###.",
    "C": ".### #... #... #... #... .###",
    "D": "###. #..# #..# #..# #..# ###.",
    "E": "#### #... ###. #... #... ####",
    "F": "#### #... ###. #... #... #...",
    "G": ".### #... #... #.## #..# .###",
    "#": "... #.# ### #.# ### #.#",
    "b": "#.. #.. ##. #.# #.# ##.",
    ".": ". . . . . #",
    "-": "... ... ### ... ... ...",
    "+": "... .#. ### .#. ... ...",
}
_HALVES = {"..": " ", "#.": "▀", ".#": "▄", "##": "█"}


@lru_cache(maxsize=256)
def big(text: str, scale: int = 1) -> tuple[str, ...]:
    """`text` as rows of half blocks, all of one width; KeyError for a character without a glyph."""
    glyphs = [_scaled(_GLYPHS[letter].split(), scale) for letter in text]
    pixels = [("." * scale).join(rows) for rows in zip(*glyphs, strict=True)]
    return tuple(
        "".join(_HALVES[upper + lower] for upper, lower in zip(*pair, strict=True))
        for pair in zip(pixels[::2], pixels[1::2], strict=True)
    )


def _scaled(rows: list[str], scale: int) -> list[str]:
    wide = ["".join(pixel * scale for pixel in row) for row in rows]
    return [row for row in wide for _ in range(scale)]


@lru_cache(maxsize=128)
def big_note(name: str, scale: int = 1) -> tuple[str, ...]:
    """A note name: the letter and its accidental big, the octave in small beside its foot."""
    head = name.rstrip("-0123456789")
    octave = name[len(head) :]
    rows = big(head, scale)
    gap = " " * len(octave)
    return tuple(row + (octave if row is rows[-1] else gap) for row in rows)
