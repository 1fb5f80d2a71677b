"""What is looked at before anything is parsed: kind of data, and what its prolog declares.

Entities can blow a small file up to gigabytes, or fetch other files; MusicXML has no use for them.
External identifiers (the usual DOCTYPE names one) are never followed.
"""

from __future__ import annotations

from collections.abc import Iterator
from xml.parsers import expat

from coach.files.musicxml import limits
from coach.files.musicxml.place import Place

_CHUNK_BYTES = 1 << 14
_LOOKS = (
    (b"MThd", "a MIDI file"),
    (b"RIFF", "a sound file"),
    (b"fLaC", "a sound file"),
    (b"OggS", "a sound file"),
    (b"ID3", "a sound file"),
    (b"%PDF", "a PDF"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"PK", "a zip archive"),
    (b"X:", "an ABC tune"),
    (b"%abc", "an ABC tune"),
    (b"{", "JSON"),
)
_ROOTS = {
    "html": "a web page",
    "svg": "a picture (SVG)",
    "museScore": "a notation program's own file, unpacked; export it as MusicXML",
    "container": "the list of contents of an archive",
    "mei": "an MEI score; export it as MusicXML",
}
SCORES = ("score-partwise", "score-timewise")


class _FirstElementError(Exception):
    """The prolog is over."""


class _EntityError(Exception):
    """The prolog declares an entity."""


def _entity(*_declaration: object) -> None:
    raise _EntityError


def chunks(data: bytes) -> Iterator[bytes]:
    """The data in pieces: small ones, but not too many, for the parser's cost grows with both."""
    size = max(_CHUNK_BYTES, len(data) // limits.MAX_FEEDS)
    for start in range(0, len(data), size):
        yield data[start : start + size]


def check_prolog(data: bytes, place: Place) -> str:
    """Name of the first element; FileError for what is no XML, or declares entities."""
    if not data.strip(b"\0 \t\r\n"):
        raise place.error("the file is empty")
    try:
        return _first_element(data)
    except _EntityError:
        raise place.error(
            "the file declares XML entities, which scores do not need and which can do harm",
            "remove its <!ENTITY lines",
        ) from None
    except (expat.ExpatError, LookupError, ValueError) as error:
        raise place.error(_not_xml(data, error)) from error


def _first_element(data: bytes) -> str:
    names: list[str] = []

    def first(name: str, _attributes: object) -> None:
        names.append(name)
        raise _FirstElementError

    parser = expat.ParserCreate()
    parser.EntityDeclHandler = _entity
    parser.StartElementHandler = first
    try:
        for chunk in chunks(data):
            parser.Parse(chunk, False)
        parser.Parse(b"", True)
    except _FirstElementError:
        pass
    return names[0] if names else ""


def _not_xml(data: bytes, error: Exception) -> str:
    start = data.lstrip()[:200]
    for magic, looks in _LOOKS:
        if start.startswith(magic):
            return f"this is not MusicXML; it looks like {looks}"
    if start.lower().startswith((b"<!doctype html", b"<html")):
        return "this is not MusicXML; it looks like a web page"
    if isinstance(error, (LookupError, ValueError)) or "encoding" in str(error):
        return f"the text is in an encoding that cannot be read ({error})"
    return f"this is not XML ({error})" if start.startswith(b"<") else "this is not MusicXML"


def check_root(name: str, place: Place) -> None:
    """FileError, saying what it is instead, unless it is a score."""
    if name in SCORES:
        return
    if name == "opus":
        raise place.error("this is a list of scores (an opus), not a score", "read one of them")
    looks = _ROOTS.get(name)
    told = f"it looks like {looks}" if looks else f"its first element is <{name[:40]}>"
    raise place.error(f"this is XML but not MusicXML; {told}")
