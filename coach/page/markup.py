"""Elements of HTML and SVG as text; whatever comes from outside is escaped here."""

from __future__ import annotations

import re
from html import escape

# XML knows no other control characters, not even escaped.
_CONTROLS = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")
# HTML allows only these to be closed at once ("<br/>"); in SVG any element may be.
_VOID = {"meta", "br", "line", "circle", "rect", "path", "polyline", "polygon", "col"}


class Markup(str):
    """Text that is markup already."""

    __slots__ = ()


Part = Markup | str | None


def tag(name: str, /, *parts: Part, **attributes: object) -> Markup:
    """An element.  Strings in it are escaped, Markup is taken as it is, None is left out.

    Names of attributes: "class_" is class, "stroke_width" stroke-width; None leaves one out.
    """
    named = "".join(
        f' {_attribute(key)}="{_value(value)}"'
        for key, value in attributes.items()
        if value is not None
    )
    inside = joined(*parts)
    if not inside and name in _VOID:
        return Markup(f"<{name}{named}/>")
    return Markup(f"<{name}{named}>{inside}</{name}>")


def joined(*parts: Part) -> Markup:
    """One after the other, strings escaped."""
    return Markup("".join(map(_escaped, parts)))


def _escaped(part: Part) -> str:
    if part is None:
        return ""
    return part if isinstance(part, Markup) else escape(_clean(part))


def _attribute(key: str) -> str:
    return key.rstrip("_").replace("_", "-") if key != "viewBox" else key


def _value(value: object) -> str:
    if isinstance(value, float):
        return number(value)
    return escape(_clean(str(value)))


def _clean(text: str) -> str:
    return _CONTROLS.sub("�", text)


def number(value: float) -> str:
    """A coordinate: to a hundredth, no longer than it must be."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
