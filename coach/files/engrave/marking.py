"""Verovio's SVG made fit for the page: fonts that are at hand, readable figures, marks at them."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Collection, Iterator, Sequence

SVG = "http://www.w3.org/2000/svg"
# It comes with typst, so that a page looks alike everywhere; bold figures are made narrow.
FONT = "Libertinus Serif"
NARROW = 0.76
# Beyond what verovio allows; narrowed, they are as wide as it thinks.
ENLARGED = 1.3
# So that brackets do not hang into the row beneath.
BRACKETED, BRACKET_RAISED_EM = 0.88, 0.1
# Measured with typst in the bold font: height of figures, their width and that of what stands
# beside them.
FIGURE_HIGH_EM = 0.61
FIGURE_WIDE_EM = 0.514
_WIDE_EM = {"T": 0.652, "H": 0.817, "(": 0.315, ")": 0.315}
# Raised by so much that a line has room beneath.
RAISED_EM = 0.13
RULE_EM = 0.09


def marked(
    pages: Sequence[str],
    fingerings: Sequence[str],
    underlined: Collection[int],
    overlined: Collection[int],
) -> list[str]:
    """The pages with `fingerings` (all that are on them, in order) marked where first choices,
    counted from 0, are `underlined` or `overlined`.  ValueError if others are found there."""
    ET.register_namespace("", SVG)
    roots = [ET.fromstring(page) for page in pages]
    found = [group for root in roots for group in _groups(root, "fing")]
    if [_text(group) for group in found] != list(fingerings):
        raise ValueError("fingerings are missing")
    first_choices = (group for group in found if not _text(group).startswith("("))
    places = {id(group): k for k, group in enumerate(first_choices)}
    for group in found:
        place = places.get(id(group), -1)
        _redrawn(group, underlined=place in underlined, overlined=place in overlined)
    return [ET.tostring(root, encoding="unicode").replace("Times,serif", FONT) for root in roots]


def figures_em(text: str) -> float:
    """The width of a fingering."""
    return NARROW * sum(_WIDE_EM.get(letter, FIGURE_WIDE_EM) for letter in text)


def _groups(root: ET.Element, name: str) -> Iterator[ET.Element]:
    return (group for group in root.iter(f"{{{SVG}}}g") if group.get("class") == name)


def _text(group: ET.Element) -> str:
    return "".join("".join(group.itertext()).split())


def _redrawn(group: ET.Element, *, underlined: bool, overlined: bool) -> None:
    """In the other font, with its marks."""
    text = _text(group)
    old = group.find(f"{{{SVG}}}text")
    if old is None:
        return
    alternate = text.startswith("(")
    em = ENLARGED * _size(old) * (BRACKETED if alternate else 1)
    raised = RAISED_EM + (BRACKET_RAISED_EM if alternate else 0)
    x, y = float(old.get("x", 0)), float(old.get("y", 0)) - raised * em
    group.clear()
    group.set("class", "fing")
    half = figures_em(text) * em / 2
    _figure(group, text, x, y, em)
    if underlined:
        _rule(group, x - half, y + RAISED_EM * em, 2 * half, RULE_EM * em)
    if overlined:
        _rule(group, x - half, y - (FIGURE_HIGH_EM + RAISED_EM) * em, 2 * half, RULE_EM * em)


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
            "font-family": FONT,
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
