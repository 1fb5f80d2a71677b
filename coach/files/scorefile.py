"""A score from a file: which reader it needs is seen from what is in it, not from its name."""

from __future__ import annotations

import re
from pathlib import Path

from coach.core.score.model import Score
from coach.errors import CoachError, FileError, reason_of
from coach.files.output import refuse_folder

SUFFIXES = frozenset({".musicxml", ".mxl", ".xml", ".mid", ".midi", ".smf", ".kar", ".abc"})
# The largest movements are some 0.5 MB packed and 26 MB unpacked.
MOST_BYTES = 128 * 2**20
_ABC_LINE = re.compile(rb"(?:^|[\r\n])[XK]:")
FORMS = "MusicXML (.musicxml, .xml, .mxl), MIDI (.mid) and ABC (.abc) can be read"


def is_score(name: str) -> bool:
    """Whether that is the path of a score, by its ending."""
    return Path(name).suffix.lower() in SUFFIXES


def read_score(path: Path) -> Score:
    """The score in a MusicXML, Standard MIDI or ABC file; FileError if it is none."""
    return score_of_bytes(_bytes(path), str(path))


def score_of_bytes(data: bytes, where: str) -> Score:
    """The score in these bytes; `where` names them in errors."""
    try:
        return _read(data, where)
    except FileError:
        raise
    except CoachError as error:
        raise FileError(error.what, where, error.hint) from None
    except (MemoryError, RecursionError):
        what = "it is too large or too deeply nested to be read"
        raise FileError(what, where, "export the parts that you need once more") from None


def _read(data: bytes, where: str) -> Score:
    if data[:4] in (b"MThd", b"RIFF"):
        from coach.files.smf import read_smf

        return read_smf(data, where)
    if _is_xml(data):
        from coach.files.musicxml import read_musicxml

        return read_musicxml(data, where)
    if _ABC_LINE.search(data):
        from coach.files.abc import read_abc

        return read_abc(data, where)
    raise FileError("it is empty" if not data else "it is no score", where, FORMS)


def _is_xml(data: bytes) -> bool:
    """A zip archive, or text that begins with a tag, in any encoding."""
    start = data[:64].removeprefix(b"\xef\xbb\xbf")
    wide = start[:2] in (b"\xff\xfe", b"\xfe\xff")
    return wide or start[:2] == b"PK" or start.lstrip(b" \t\r\n\0")[:1] == b"<"


def _bytes(path: Path) -> bytes:
    try:
        if path.stat().st_size > MOST_BYTES:
            hint = f"files up to {MOST_BYTES // 2**20} MB are read"
            raise FileError("it is too large", str(path), hint)
        return path.read_bytes()
    except OSError as error:
        refuse_folder(path, "name a score in it")
        what = f"it can't be read ({reason_of(error)})"
        raise FileError(what, str(path), "check the name") from None
