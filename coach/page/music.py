"""An engraved line of music as a part of a picture: ids of its own, colours of the page."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Mapping
from dataclasses import dataclass

from coach.page.markup import Markup

SVG = "{http://www.w3.org/2000/svg}"
# Texts of an engraving for who hovers, its look, and who made it: the page has its own.
_LEFT_OUT = {f"{SVG}{name}" for name in ("title", "desc", "style")}
# Of no use to the eye, but they would be seen.
_HIDDEN = "placeholder"
_ODD = {"id", "ox", "oy", "version", "overflow", "color", "{http://www.w3.org/1999/xlink}href"}


@dataclass(frozen=True, slots=True)
class MusicLine:
    """One line of music: an SVG text ("" where there is none) of that size in mm, and where in it
    the heads of the passage's notes stand: their middle, by index of the note."""

    svg: str
    width_mm: float
    height_mm: float
    heads_mm: Mapping[int, float]


def embedded(line: MusicLine, key: str, units_in_mm: float, left: float) -> Markup:
    """The engraving at the top of a picture in which a mm has so many units, `left` units from its
    side; `key` makes its ids its own."""
    ET.register_namespace("", SVG.strip("{}"))
    root = ET.fromstring(line.svg)
    _cleaned(root)
    for glyph in root.iter(f"{SVG}g"):
        if glyph.get("glyph"):
            glyph.set("id", f"{key}-{glyph.attrib.pop('glyph')}")
    for use in root.iter(f"{SVG}use"):
        use.set("href", f"#{key}-{use.get('href', '').lstrip('#')}")
    root.set("class", "engraving")
    root.set("x", f"{left:g}")
    root.set("width", f"{line.width_mm * units_in_mm:g}")
    root.set("height", f"{line.height_mm * units_in_mm:g}")
    root.set("aria-hidden", "true")
    return Markup(ET.tostring(root, encoding="unicode"))


def _is_left_out(element: ET.Element) -> bool:
    return element.tag in _LEFT_OUT or _HIDDEN in element.get("class", "").split()


def _cleaned(root: ET.Element) -> None:
    """Ids are left only to what is used again: the signs of the font."""
    for parent in root.iter():
        for child in [child for child in parent if _is_left_out(child)]:
            parent.remove(child)
        if parent.tag == f"{SVG}defs":
            for glyph in parent:
                glyph.set("glyph", glyph.get("id", ""))
        for name in _ODD & set(parent.attrib):
            del parent.attrib[name]
        for name in ("text", "tail"):
            if not (getattr(parent, name) or "").strip():
                setattr(parent, name, None)
