"""Where in engraved lines the heads of a passage's notes stand."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Sequence

from coach.files.engrave.marking import SVG
from coach.files.engrave.music import Picture

_MOVED = re.compile(r"translate\(([-\d.]+),? ?([-\d.]+)\)")
_SCALED = re.compile(r"scale\(([\d.]+)")
# Half the width of heads in thousandths of an em, by their code in the standard music font layout
# (SMuFL: noteheadWhole, noteheadHalf, noteheadBlack); of others as of the last.
_HALF = {"E0A2": 211.0, "E0A3": 157.0, "E0A4": 157.0}


def heads_mm(xml: str, pictures: Sequence[Picture]) -> list[dict[int, float]]:
    """For each picture (the lines of one voice, in order) the middle of each note's first head, by
    the index of the note; what is tied to a head before has none of its own.

    `xml` is the MusicXML that was engraved.  ValueError if heads are missing.
    """
    lines = [_heads(picture) for picture in pictures]
    starts = _starts(xml)
    if sum(map(len, lines)) != len(starts):
        raise ValueError("heads are missing")
    found: list[dict[int, float]] = []
    index, places = -1, iter(starts)
    for line in lines:
        found.append({})
        for x_mm in line:
            if next(places):
                index += 1
                found[-1][index] = x_mm
    return found


def _starts(xml: str) -> list[bool]:
    """For each note element that is no rest, whether it begins a note of the passage."""
    notes = (note for note in ET.fromstring(xml).iter("note") if note.find("rest") is None)
    return [all(tie.get("type") != "stop" for tie in note.findall("tie")) for note in notes]


def _heads(picture: Picture) -> list[float]:
    root = ET.fromstring(picture.svg)
    inner = root.find(f".//{{{SVG}}}svg")
    if inner is None:
        raise ValueError("a picture of an unknown kind")
    units = float(inner.get("viewBox", "0 0 0 0").split()[2])
    margin = _margin(inner)
    return [(x + margin) * picture.width_mm / units for x in _places(inner)]


def _margin(inner: ET.Element) -> float:
    for group in inner.iter(f"{{{SVG}}}g"):
        if group.get("class") == "page-margin":
            found = _MOVED.search(group.get("transform", ""))
            return float(found[1]) if found else 0.0
    return 0.0


def _places(inner: ET.Element) -> Iterator[float]:
    for note in inner.iter(f"{{{SVG}}}g"):
        if note.get("class") != "note":
            continue
        use = note.find(f"{{{SVG}}}g[@class='notehead']/{{{SVG}}}use")
        moved = _MOVED.search(use.get("transform", "")) if use is not None else None
        if use is None or moved is None:
            raise ValueError("a note without its head")
        scaled = _SCALED.search(use.get("transform", ""))
        half = _HALF.get(use.get("href", "").lstrip("#")[:4], _HALF["E0A4"])
        yield float(moved[1]) + half * (float(scaled[1]) if scaled else 1.0)
