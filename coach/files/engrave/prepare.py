"""Our own MusicXML made ready for verovio: what the page itself shows is taken out, the other
choices of fingering are put into brackets, line breaks are set."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Sequence


def prepared(xml: str, starts: Sequence[int] = ()) -> str:
    """`starts` are the bars, counted from 0, with which a new line begins."""
    root = ET.fromstring(xml)
    for part in root.iter("part"):
        bars = part.findall("measure")
        for bar in bars:
            _without_tempo(bar)
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


def _without_names(root: ET.Element) -> None:
    """No title, and no instrument before the first line: that stands above."""
    for name in ("work", "movement-title", "movement-number", "credit", "identification"):
        for found in root.findall(name):
            root.remove(found)
    for part in root.iter("score-part"):
        for name in ("part-name", "part-abbreviation"):
            for found in part.findall(name):
                found.text = ""
