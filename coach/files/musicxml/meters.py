"""Time signatures, brought to counts over one unit."""

from __future__ import annotations

from math import lcm
from xml.etree.ElementTree import Element

from coach.core.score.model import Meter
from coach.files.musicxml import limits
from coach.files.musicxml.place import Place

_UNITS = tuple(2**power for power in range(10))  # up to 1/512


def meter_of(time: Element, place: Place) -> Meter | None:
    """3+2 over 8 is (3, 2); 3/8 + 2/4 is (3, 4) over 8.  None for music without a meter."""
    if time.find("senza-misura") is not None:
        return None
    counts = [(text.text or "").strip() for text in time.findall("beats")]
    units = [(text.text or "").strip() for text in time.findall("beat-type")]
    if not counts or len(counts) != len(units):
        return None
    try:
        return _in_one_unit([_pair(c, u) for c, u in zip(counts, units, strict=True)])
    except ValueError:
        said = " + ".join(f"{c[:10]}/{u[:10]}" for c, u in zip(counts, units, strict=True))
        raise place.error(f"a time signature of {said[:60]} makes no sense") from None


def _pair(counts_text: str, unit_text: str) -> tuple[tuple[int, ...], int]:
    counts = tuple(_count(text) for text in counts_text.split("+"))
    unit = _count(unit_text)
    if unit not in _UNITS:
        raise ValueError
    return counts, unit


def _count(text: str) -> int:
    plain = text.strip()
    if not (plain.isascii() and plain.isdigit() and len(plain) <= 3 and int(plain)):
        raise ValueError
    return int(plain)


def _in_one_unit(pairs: list[tuple[tuple[int, ...], int]]) -> Meter:
    unit = lcm(*(own for _, own in pairs))
    counts = tuple(count * (unit // own) for some, own in pairs for count in some)
    meter = Meter(counts, unit)
    if len(counts) > limits.MAX_COUNTS or meter.bar_beats > limits.MAX_BEATS:
        raise ValueError
    return meter
