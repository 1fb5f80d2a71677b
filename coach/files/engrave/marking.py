"""Verovio's SVG made fit for the page: fonts that are at hand, readable figures, marks at them."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Collection, Iterator, Sequence

SVG = "http://www.w3.org/2000/svg"
# Both come with typst, so that a page looks alike everywhere; DejaVu's figures, made narrow, are
# clear at a distance.
TEXT_FONT, FIGURE_FONT = "Libertinus Serif", "DejaVu Sans Mono"
FIGURE_EM = 0.602
NARROW = 0.78
CAP_EM = 0.73
# Raised by so much that a line has room beneath.
RAISED_EM = 0.13
RULE_EM = 0.09


def marked(
    pages: Sequence[str],
    fingerings: Sequence[str],
    underlined: Collection[int],
    framed: Collection[int],
) -> list[str]:
    """The pages with `fingerings` (all that are on them, in order) marked where first choices,
    counted from 0, are `underlined` or `framed`.  ValueError if others are found there."""
    ET.register_namespace("", SVG)
    roots = [ET.fromstring(page) for page in pages]
    found = [group for root in roots for group in _groups(root, "fing")]
    if [_text(group) for group in found] != list(fingerings):
        raise ValueError("fingerings are missing")
    first_choices = (group for group in found if not _text(group).startswith("("))
    places = {id(group): k for k, group in enumerate(first_choices)}
    for group in found:
        place = places.get(id(group), -1)
        _redrawn(group, underlined=place in underlined, framed=place in framed)
    texts = (ET.tostring(root, encoding="unicode") for root in roots)
    return [text.replace("Times,serif", TEXT_FONT).replace("Times, serif", TEXT_FONT) for text in texts]


def _groups(root: ET.Element, name: str) -> Iterator[ET.Element]:
    return (group for group in root.iter(f"{{{SVG}}}g") if group.get("class") == name)


def _text(group: ET.Element) -> str:
    return "".join("".join(group.itertext()).split())


def _redrawn(group: ET.Element, *, underlined: bool, framed: bool) -> None:
    """In the other font, with its marks."""
    text = _text(group)
    old = group.find(f"{{{SVG}}}text")
    if old is None:
        return
    em = _size(old)
    x, y = float(old.get("x", 0)), float(old.get("y", 0)) - RAISED_EM * em
    group.clear()
    group.set("class", "fing")
    half = len(text) * FIGURE_EM * NARROW * em / 2
    _figure(group, text, x, y, em)
    if underlined:
        _rule(group, x - half, y + RAISED_EM * em, 2 * half, RULE_EM * em)
    if framed:
        _frame(group, x - half, y, 2 * half, em)


def _size(text: ET.Element) -> float:
    sizes = [float(span.get("font-size", "0px").removesuffix("px")) for span in text.iter()]
    return max(sizes)


def _figure(group: ET.Element, text: str, x: float, y: float, em: float) -> None:
    new = ET.SubElement(
        group,
        f"{{{SVG}}}text",
        {
            "transform": f"translate({x:.0f} {y:.0f}) scale({NARROW} 1)",
            "text-anchor": "middle",
            "font-family": FIGURE_FONT,
            "font-size": f"{em:.0f}px",
            "font-weight": "bold",
            "font-style": "normal",
        },
    )
    new.text = text


def _rule(group: ET.Element, x: float, y: float, width: float, height: float) -> None:
    places = {"x": x, "y": y - height / 2, "width": width, "height": height}
    shape = {name: f"{value:.0f}" for name, value in places.items()}
    ET.SubElement(group, f"{{{SVG}}}rect", {**shape, "stroke": "none"})


def _frame(group: ET.Element, x: float, y: float, width: float, em: float) -> None:
    room = 0.08 * em
    places = {
        "x": x - room,
        "y": y - (CAP_EM + 0.1) * em,
        "width": width + 2 * room,
        "height": (CAP_EM + 0.1 + RAISED_EM + 0.06) * em,
    }
    shape = {name: f"{value:.0f}" for name, value in places.items()}
    thin = {"fill": "none", "stroke": "black", "stroke-width": f"{0.05 * em:.0f}"}
    ET.SubElement(group, f"{{{SVG}}}rect", {**shape, **thin})
