"""The file, piece by piece: what stands at its head, and then one bar of one part at a time.

Both orders of MusicXML, part by part and bar by bar, come out alike.  What has been handed out is
cleared, so that memory holds one bar and not the file.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from xml.etree.ElementTree import Element, ParseError, XMLPullParser

from coach.files.musicxml import limits
from coach.files.musicxml.guard import check_prolog, check_root, chunks
from coach.files.musicxml.place import Place

PartKey = tuple[str, int]


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar of one part: `part` is its id and which of that id it is; `index` counts bars."""

    part: PartKey
    index: int
    number: str
    implicit: bool
    content: Element


def pieces(data: bytes, place: Place) -> Iterator[Element | Bar]:
    """Elements of the head, then bars.  FileError for anything that is not well-formed MusicXML."""
    root = check_prolog(data, place)
    check_root(root, place)
    walk = _Timewise() if root == "score-timewise" else _Partwise()
    yield from _walked(data, walk, place)


def _events(data: bytes, place: Place) -> Iterator[tuple[str, Element]]:
    parser: XMLPullParser[Element] = XMLPullParser(events=("start", "end"))
    try:
        for chunk in chunks(data):
            parser.feed(chunk)
            yield from parser.read_events()  # type: ignore[misc]
        parser.close()
        yield from parser.read_events()  # type: ignore[misc]
    except (ParseError, LookupError, ValueError) as error:
        raise place.error(
            f"the XML is damaged or cut off ({error})", "export the score once more"
        ) from error


def _walked(data: bytes, walk: _Partwise | _Timewise, place: Place) -> Iterator[Element | Bar]:
    depth = elements = 0
    for event, element in _events(data, place):
        if event == "start":
            depth += 1
            elements += 1
            if depth > limits.MAX_DEPTH or elements > limits.MAX_ELEMENTS:
                raise place.error("the XML is nested or crowded as no score is")
            if depth == 2:
                walk.opened(element)
            continue
        depth -= 1
        if depth > 2:
            continue
        piece = walk.closed(element, depth)
        if piece is not None:
            yield piece
            element.clear()
            walk.cleared()
            elements = 0


class _Partwise:
    """A part is opened, and its bars are closed one by one."""

    def __init__(self) -> None:
        self._seen: Counter[str] = Counter()
        self._part: Element | None = None
        self._key: PartKey = ("", 0)
        self._index = -1

    def opened(self, element: Element) -> None:
        if element.tag == "part":
            name = element.get("id", "")
            self._part, self._key, self._index = element, (name, self._seen[name]), -1
            self._seen[name] += 1

    def closed(self, element: Element, depth: int) -> Element | Bar | None:
        if depth == 2 and self._part is not None and element.tag == "measure":
            self._index += 1
            return _bar(self._key, self._index, element, element)
        if depth == 1 and element.tag != "part":
            return element
        if depth == 1:
            self._part = None
        return None

    def cleared(self) -> None:
        if self._part is not None:
            self._part.clear()


class _Timewise:
    """A bar is opened, and what its parts have in it is closed one by one."""

    def __init__(self) -> None:
        self._seen: Counter[str] = Counter()
        self._measure: Element | None = None
        self._attributes: dict[str, str] = {}
        self._index = -1

    def opened(self, element: Element) -> None:
        if element.tag == "measure":
            self._measure, self._attributes = element, dict(element.attrib)
            self._index += 1
            self._seen.clear()

    def closed(self, element: Element, depth: int) -> Element | Bar | None:
        if depth == 2 and self._measure is not None and element.tag == "part":
            name = element.get("id", "")
            key = (name, self._seen[name])
            self._seen[name] += 1
            return _bar(key, self._index, element, self._attributes)
        if depth == 1 and element.tag != "measure":
            return element
        if depth == 1:
            self._measure = None
        return None

    def cleared(self) -> None:
        if self._measure is not None:
            self._measure.clear()


def _bar(part: PartKey, index: int, content: Element, attributes: Element | dict[str, str]) -> Bar:
    number = attributes.get("number", "") or str(index + 1)
    return Bar(part, index, number[:20], attributes.get("implicit") == "yes", content)
