"""Bytes to tunes: lines with their numbers, fields and music told apart, free text skipped."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from coach.errors import FileError

# A tune for one stand is a few kilobytes; a whole book of tunes stays below this.
MOST_BYTES = 8_000_000
_FIELD = re.compile(r"([A-Za-z+]):(.*)", re.DOTALL)
# "c:|" at the start of a line is music, as no field's text begins with a bar line or a colon.
_MUSIC = re.compile(r"[A-Ga-gxzXZ]:[|:]")
_COMMENT = re.compile(r"(?<!\\)%.*")
_INSTRUCTION = re.compile(r"%%(propagate-accidentals\b.*)", re.DOTALL)
_BLOCK = re.compile(r"%%begin(\w+)")
# What a terminal would obey: control characters, and marks that turn the direction of writing.
_CONTROL = re.compile("[\x01-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")


@dataclass(frozen=True, slots=True)
class SourceRow:
    """One line without its comment: a field ("K", "Dm") or music (key "", the code)."""

    number: int
    key: str
    text: str


@dataclass(slots=True)
class Tune:
    """Rows up to and with K: (those of the file header before them), and the rows after."""

    header: list[SourceRow] = field(default_factory=list)
    body: list[SourceRow] = field(default_factory=list)


def text_of(data: bytes, where: str) -> str:
    """The file as text: UTF-8, else Latin-1 as old files are; FileError if it is no text."""
    if len(data) > MOST_BYTES:
        raise FileError(f"it is larger than {MOST_BYTES // 1_000_000} MB", where, "cut it")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" in data:
        hint = "save it as UTF-8 text"
        raise FileError("it is no ABC text (UTF-16 or no text at all)", f"{where}, line 1", hint)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    return _CONTROL.sub(" ", text)


def tunes_of(text: str, where: str) -> list[Tune]:
    """The tunes in order; FileError with the line if there is none."""
    blocks = _blocks(text)
    common, tunes = _file_header(blocks), []
    for block in blocks:
        tune = _tune(block)
        if tune:
            tune.header = common + tune.header
            tunes.append(tune)
    if not tunes:
        raise _no_tune(blocks, where)
    return tunes


def _no_tune(blocks: list[list[SourceRow]], where: str) -> FileError:
    rows = [row for block in blocks for row in block]
    number = next((row.number for row in rows if row.key == "X"), 1)
    what = "no line K: (the key) was found, so no tune begins here"
    return FileError(what, f"{where}, line {number}", 'an ABC tune needs a line such as "K:F"')


def _blocks(text: str) -> list[list[SourceRow]]:
    """Rows between blank lines; a new X: begins a new block too."""
    blocks: list[list[SourceRow]] = [[]]
    for row in _rows(text):
        if row is None or row.key == "X":
            blocks.append([])
        if row is not None:
            blocks[-1].append(row)
    return [block for block in blocks if block]


def _rows(text: str) -> Iterator[SourceRow | None]:
    """Rows in order; None is a blank line, which ends a tune."""
    skip_to = ""
    for number, line in enumerate(re.split(r"\r\n|\n|\r", text), start=1):
        if skip_to:
            skip_to = "" if line.startswith(skip_to) else skip_to
            continue
        block = _BLOCK.match(line)
        if block:
            skip_to = f"%%end{block.group(1)}"
        elif not line.strip():
            yield None
        elif found := _INSTRUCTION.fullmatch(line):
            yield SourceRow(number, "I", found.group(1))
        elif not line.startswith("%"):
            yield _row(number, line)


def _row(number: int, line: str) -> SourceRow:
    plain = _COMMENT.sub("", line).rstrip()
    found = _FIELD.fullmatch(plain)
    if found and not _MUSIC.match(plain):
        return SourceRow(number, found.group(1), found.group(2).strip())
    return SourceRow(number, "", plain[:-1] if plain.endswith("\\") else plain)


def _file_header(blocks: list[list[SourceRow]]) -> list[SourceRow]:
    """Fields before the first tune hold for all tunes."""
    made: list[SourceRow] = []
    for block in blocks:
        if any(row.key in ("X", "K") for row in block):
            break
        made += [row for row in block if row.key]
    return made


def _tune(block: list[SourceRow]) -> Tune | None:
    """Begins at X:, or at its first field where that is missing; None if there is no K:."""
    keys = [row.key for row in block]
    if "K" not in keys:
        return None
    key_at = keys.index("K")
    start = keys.index("X") if "X" in keys[:key_at] else 0
    header = [row for row in block[start : key_at + 1] if row.key]
    return Tune(header, block[key_at + 1 :])
