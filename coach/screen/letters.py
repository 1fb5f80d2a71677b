"""What is printed where letters of ours are missing: in a file or pipe on Windows (cp1252), on an
old terminal.  A question mark in their place would say "unsure", and a flat as a sharp.

To encode with `errors=STAND_INS` is all that is to be done.
"""

from __future__ import annotations

import codecs

STAND_INS = "coach.stand-ins"
_LETTERS = {
    "♭": "b", "♯": "#", "−": "-", "–": "-", "—": "-", "→": ">", "…": ".", "·": ".", "\u00a0": " ",
    "‘": "'", "’": "'", "“": '"', "”": '"', "×": "x",
    "●": "*", "○": "o", "◦": "o", "◆": "^", "◀": "<", "▶": ">", "▲": "^", "▼": "v",
    "─": "-", "━": "=", "┼": "+", "┃": "|", "▬": "=", "▀": "^",
    "▁": "_", "▂": "_", "▃": "-", "▄": "-", "▅": "=", "▆": "=", "▇": "#", "█": "#",
}  # fmt: skip


def _stand_in(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    lost = error.object[error.start : error.end]
    return "".join(_LETTERS.get(letter, "?") for letter in lost), error.end


codecs.register_error(STAND_INS, _stand_in)
