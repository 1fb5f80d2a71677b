"""Numbers and words out of elements."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache
from xml.etree.ElementTree import Element

from coach.errors import printable

_DECIMAL = re.compile(r"[+-]?\d{1,12}(\.\d{0,12})?|[+-]?\.\d{1,12}")


def one_line(text: str | None, most: int) -> str:
    """The text with all blanks and line breaks collapsed, cut at `most` characters, and nothing in
    it that a terminal would obey."""
    return " ".join(printable((text or "")[: 50 * most]).split())[:most].strip()


@lru_cache(maxsize=4096)
def number_of(text: str | None) -> Fraction | None:
    """The decimal number, or None for anything else (exponents and huge numbers too)."""
    found = _DECIMAL.fullmatch((text or "").strip())
    return Fraction(found[0]) if found else None


def number_in(element: Element, tag: str) -> Fraction | None:
    return number_of(element.findtext(tag))


def whole_in(element: Element, tag: str, default: int = 0) -> int:
    """The number in the child `tag`, cut to a whole one."""
    found = number_in(element, tag)
    return default if found is None else int(found)


def whole_at(element: Element, attribute: str, default: int) -> int:
    found = number_of(element.get(attribute))
    return default if found is None else int(found)
