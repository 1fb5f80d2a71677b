"""The signs that music code is made of, as regular expressions."""

from __future__ import annotations

import re

from coach.files.abc.fields import LENGTH

_NOTE = rf"(\^{{1,2}}|_{{1,2}}|=)?([A-Ga-g])([,']{{0,12}}){LENGTH}"
_BAR = r"\.?(?:\[\||\||:+\||::+)(?:\[\||[|:\]])*"
# The order matters: an inline field before a chord, an ending before both, a bar line before all.
SIGN = re.compile(
    rf"""(?P<space>[\s`]+)
    |(?P<bar>{_BAR})(?P<turns>\d[\d,\-.]*)?
    |\[(?P<key>[A-Za-z]):(?P<value>[^\]]*)\]
    |\[\s*(?P<ending>\d[\d,\-.]*)
    |(?P<chord>\[)
    |(?P<grace>\{{/?)
    |"(?P<text>[^"]*)"
    |!(?P<word>[^!\s"]{{1,30}})!|\+(?P<old_word>[^+\s"|]{{1,30}})\+
    |(?P<tuplet>\(\d+(?::\d*){{0,2}})
    |(?P<slur>\.?\(&?)
    |(?P<end>&?\))
    |(?P<arrows>>+|<+)
    |(?P<note>{_NOTE})
    |(?P<rest>[zx]){LENGTH}
    |(?P<bars>[ZX])(?P<bar_count>\d*)
    |(?P<spacer>y[\d/]*)
    |(?P<tie>\.?-)
    |(?P<overlay>&)
    |(?P<letter>[.~H-Wh-w])
    """,
    re.VERBOSE,
)
ONE_NOTE = re.compile(_NOTE)
A_LENGTH = re.compile(LENGTH)
_TURNS = re.compile(r"(\d{1,2})(?:-(\d{1,2}))?")


def turns_of(text: str) -> frozenset[int]:
    """The numbers of an ending, such as "1,3" or "1-3"; ValueError if they are none."""
    turns: set[int] = set()
    for part in text.strip(",.-").split(","):
        found = _TURNS.fullmatch(part.strip("."))
        low, high = (
            (int(found.group(1)), int(found.group(2) or found.group(1))) if found else (0, 0)
        )
        if not 1 <= low <= high:
            raise ValueError(f'"{text[:20]}" is no number of an ending')
        turns.update(range(low, high + 1))
    return frozenset(turns)
