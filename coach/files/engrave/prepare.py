"""Our own MusicXML made ready for verovio: what the page itself shows is taken out, the other
choices of fingering are put into brackets, line breaks are set."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Sequence


def prepared(xml: str, starts: Sequence[int] = ()) -> str:
    """`starts` are the bars, counted from 0 (rests of several bars as one), with which a new line
    begins."""
    root = ET.fromstring(xml)
    for part in root.iter("part"):
        for bar in part.findall("measure"):
            _without_tempo(bar)
        bars = _rests_joined(part)
        # Every line is a page of its own to verovio.
        for at in starts:
            bars[at].insert(0, ET.Element("print", {"new-page": "yes"}))
    _without_names(root)
    if _fingerings(root):
        _slurs_below(root)
    for fingering in _fingerings(root):
        fingering.text = _shown(fingering)
    return ET.tostring(root, encoding="unicode", xml_declaration=True)


def fingerings_of(xml: str) -> list[str]:
    """All fingerings in order, as they are shown."""
    return [_shown(fingering) for fingering in _fingerings(ET.fromstring(xml))]


def _fingerings(root: ET.Element) -> list[ET.Element]:
    return [one for one in root.iter("fingering") if (one.text or "").strip()]


def _shown(fingering: ET.Element) -> str:
    text = (fingering.text or "").strip()
    return f"({text})" if fingering.get("alternate") == "yes" else text


def _without_tempo(bar: ET.Element) -> None:
    """The goal stands beside the title; a tempo mark would be pushed above the fingerings."""
    for direction in bar.findall("direction"):
        if direction.find("direction-type/metronome") is not None:
            bar.remove(direction)


def _slurs_below(root: ET.Element) -> None:
    """Verovio draws slurs above through the fingerings there; below it moves syllables away."""
    for slur in root.iter("slur"):
        slur.attrib.pop("orientation", None)
        if slur.get("type") == "start":
            slur.set("placement", "below")


def _rests_joined(part: ET.Element) -> list[ET.Element]:
    """Bars of rest in a row are marked as one rest; returns the bars that are then to be seen."""
    seen: list[ET.Element] = []
    counts: list[int] = []
    for bar in part.findall("measure"):
        resting = _is_rest(bar)
        if resting and counts and counts[-1] and bar.find("attributes") is None:
            counts[-1] += 1
        else:
            seen.append(bar)
            counts.append(int(resting))
    for bar, count in zip(seen, counts, strict=True):
        if count > 1:
            _mark_rest(bar, count)
    return seen


def _is_rest(bar: ET.Element) -> bool:
    notes = bar.findall("note")
    return bool(notes) and all(note.find("rest") is not None for note in notes)


def _mark_rest(bar: ET.Element, count: int) -> None:
    """In attributes of its own: beside a clef verovio would draw that clef twice."""
    attributes = ET.Element("attributes")
    bar.insert(sum(child.tag == "attributes" for child in bar), attributes)
    style = ET.SubElement(attributes, "measure-style")
    ET.SubElement(style, "multiple-rest").text = str(count)


def _without_names(root: ET.Element) -> None:
    """No title, and no instrument before the first line: that stands above."""
    for name in ("work", "movement-title", "movement-number", "credit", "identification"):
        for found in root.findall(name):
            root.remove(found)
    for part in root.iter("score-part"):
        for name in ("part-name", "part-abbreviation"):
            for found in part.findall(name):
                found.text = ""
