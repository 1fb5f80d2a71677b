"""What was found as plain data, for JSON."""

from __future__ import annotations

from dataclasses import asdict
from fractions import Fraction
from typing import Any


def plain_of(found: Any) -> dict[str, Any]:
    """The fields of a dataclass; numbers to four places, beats as numbers, tuples as lists."""
    plain: dict[str, Any] = _plain(asdict(found))
    return plain


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return round(float(value), 4) if isinstance(value, Fraction | float) else value
