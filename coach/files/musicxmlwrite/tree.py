"""Elements with text in them."""

from __future__ import annotations

from xml.etree import ElementTree as ET


def child(parent: ET.Element, tag: str, text: str = "", **attributes: str) -> ET.Element:
    """A new last child; what XML cannot hold is left out of its text."""
    made = ET.SubElement(parent, tag, attributes)
    made.text = "".join(letter for letter in text if letter.isprintable()) or None
    return made
