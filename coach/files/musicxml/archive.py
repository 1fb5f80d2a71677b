"""The score out of a zipped file (.mxl): which member it is, and its bytes, within limits."""

from __future__ import annotations

import struct
import zipfile
import zlib
from io import BytesIO
from xml.etree import ElementTree

from coach.files.musicxml import limits
from coach.files.musicxml.guard import check_prolog
from coach.files.musicxml.place import Place

_MAGIC = b"PK"
_CHUNK_BYTES = 1 << 16
_ENCRYPTED = 1
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_CONTAINER = "META-INF/container.xml"
_BROKEN = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    OSError,
    NotImplementedError,
    RuntimeError,
    UnicodeError,
    ValueError,
    OverflowError,
)


def is_archive(data: bytes) -> bool:
    return data.startswith(_MAGIC)


def score_bytes(data: bytes, place: Place) -> bytes:
    """The XML of the score in the archive; FileError if there is none, or it is not to be had."""
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            return _score(archive, place)
    except _BROKEN as error:
        raise place.error(
            "the archive is damaged or cut off", "export it once more, or as plain MusicXML"
        ) from error


def _score(archive: zipfile.ZipFile, place: Place) -> bytes:
    members = archive.infolist()
    if len(members) > limits.MAX_MEMBERS:
        raise place.error(f"the archive has {len(members)} files, which is no score")
    names = [member.filename for member in members]
    name = _score_name(archive, names, place)
    found = _unpacked(archive, name, limits.MAX_BYTES, place)
    if is_archive(found):
        raise place.error("the score in the archive is an archive itself", "unpack it first")
    return found


def _score_name(archive: zipfile.ZipFile, names: list[str], place: Place) -> str:
    if _CONTAINER in names:
        container = _unpacked(archive, _CONTAINER, limits.MAX_CONTAINER_BYTES, place)
        name = _root_file(container, place)
    else:
        scores = [n for n in names if n.endswith((".musicxml", ".xml"))]
        if len(scores) != 1:
            raise place.error("the archive does not say which of its files is the score")
        name = scores[0]
        place.remark("The archive has no list of contents; its only XML file was taken")
    if name.startswith("/") or "\\" in name or ".." in name.split("/") or name not in names:
        raise place.error(f"the archive names {name[:60]!r} as its score, which is not in it")
    return name


def _root_file(container: bytes, place: Place) -> str:
    check_prolog(container, place)
    try:
        root = ElementTree.fromstring(container)
    except (ElementTree.ParseError, LookupError, ValueError) as error:
        raise place.error("the list of contents in the archive is not XML") from error
    for file in root.iterfind(".//{*}rootfile"):
        kind = file.get("media-type", "")
        if not kind or "musicxml" in kind:
            return file.get("full-path", "")
    raise place.error("the archive names no MusicXML score")


def _unpacked(archive: zipfile.ZipFile, name: str, most_bytes: int, place: Place) -> bytes:
    """The bytes of a member; counted while they come, for the header may say anything."""
    found = [member for member in archive.infolist() if member.filename == name]
    if len(found) > 1:
        raise place.error(f"the archive has two files named {name[:60]!r}")
    member = found[0]
    if member.flag_bits & _ENCRYPTED:
        raise place.error("the archive is locked with a password", "save it without one")
    if member.compress_type not in _METHODS:
        raise place.error("the archive is packed in a way that MusicXML does not know")
    chunks, size = [], 0
    with archive.open(member) as stream:
        while chunk := stream.read(_CHUNK_BYTES):
            size += len(chunk)
            if size > most_bytes:
                raise place.error(f"the archive unpacks to more than {most_bytes // 10**6} MB")
            packed = max(1, member.compress_size)
            if size > limits.RATIO_FROM_BYTES and size > limits.MAX_RATIO * packed:
                raise place.error("the archive unpacks to far more than any score needs")
            chunks.append(chunk)
    return b"".join(chunks)
