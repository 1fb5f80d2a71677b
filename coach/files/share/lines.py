"""Files of records: UTF-8 text, one JSON object a line, the first of them the header."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, BinaryIO, NoReturn

from coach.core.share.shape import ShapeError, shown
from coach.errors import FileError, reason_of
from coach.files.output import whole_file
from coach.files.share.limits import MAX_BYTES, MAX_LINE_BYTES, MAX_LINES
from coach.files.share.schema import FORMAT, VERSION, check_record

Record = dict[str, Any]


def read_records(
    path: Path, told: Callable[[int], None] = lambda size: None
) -> Iterator[tuple[str, Record]]:
    """Each record with its place ("file, line 3"), checked against the schema, the header first;
    `told` gets the size of each line in bytes.

    FileError where the file can't be read, and for the first line that is wrong.
    """
    with contextlib.ExitStack() as stack:
        try:
            file = stack.enter_context(path.open("rb"))
        except (OSError, ValueError) as error:
            _unreadable(path, error)
        first = True
        for number, line in _lines(file, path):
            where = f"{path}, line {number}"
            record = _record(line, where, first=first)
            if first != (record["record"] == "header"):
                hint = f"the first line, and no other, has the header of {FORMAT}"
                raise FileError("this is no file of records of the coach", where, hint)
            first = False
            told(len(line))
            yield where, record
        if first:
            raise FileError("this file is empty", str(path), "choose one that coach export wrote")


def _lines(file: BinaryIO, path: Path) -> Iterator[tuple[int, bytes]]:
    """The lines that are not blank, counted, without reading beyond what one may hold."""
    total = count = 0
    while True:
        try:
            line = file.readline(MAX_LINE_BYTES + 1)
        except OSError as error:
            _unreadable(path, error)
        if not line:
            break
        count, total = count + 1, total + len(line)
        if len(line) > MAX_LINE_BYTES:
            what = f"this line is longer than {MAX_LINE_BYTES // 1_000_000} MB"
            raise FileError(what, f"{path}, line {count}", "no take is as long")
        if count > MAX_LINES or total > MAX_BYTES:
            what = f"more than {MAX_LINES:,} lines or {MAX_BYTES // 10**9} GB"
            raise FileError(what, str(path), "export it in parts, with --since or --drill")
        if not line.isspace():
            yield count, line


def _record(line: bytes, where: str, *, first: bool) -> Record:
    record: Record = _parsed(line, where)
    if first and not (isinstance(record, dict) and "record" in record):
        hint = "choose one that coach export, assign or return wrote"
        raise FileError("this is no file of records of the coach", where, hint)
    _refuse_newer(record, where)
    try:
        check_record(record)
    except ShapeError as error:
        raise FileError(str(error), where, "export it once more") from None
    return record


def _parsed(line: bytes, where: str) -> Any:
    try:
        # Editors on Windows put a mark at the start of a file.
        return json.loads(line.decode("utf-8-sig"), parse_constant=_no_number)
    except UnicodeDecodeError:
        what, hint = "this is not text in UTF-8", "name a file that coach export wrote"
    except RecursionError:
        what, hint = "its brackets are nested too deep", "export it once more"
    except ValueError as error:
        what, hint = f"this is not JSON ({_short(error)})", "each line holds one JSON object"
    raise FileError(what, where, hint)


def _no_number(word: str) -> NoReturn:
    raise ValueError(f"{word} is no number")


def _short(error: ValueError) -> str:
    """The first letter small, for the middle of a sentence; "NaN" stays."""
    text = getattr(error, "msg", None)
    return f"{text[0].lower()}{text[1:]}" if text else str(error)[:80]


def _refuse_newer(record: Any, where: str) -> None:
    if isinstance(record, dict) and record.get("format") == FORMAT:
        version = record.get("version")
        if isinstance(version, int) and version > VERSION:
            what = f"this file was written by a newer coach (version {shown(version)})"
            raise FileError(what, where, f"install the newer coach; this one reads {VERSION}")


def _unreadable(path: Path, error: Exception) -> NoReturn:
    what = f"this file can't be read ({reason_of(error)})"
    raise FileError(what, str(path), "check the name") from None


def write_records(path: Path, records: Iterable[Mapping[str, Any]]) -> list[str]:
    """Write the file, all of it or none; returns sentences about records that can't be written, for
    the reader would refuse them: they are left out.

    FileError if the system can't write it.
    """
    left_out = []
    with (
        whole_file(path, private=True) as part,
        part.open("w", encoding="utf-8", newline="\n") as file,
    ):
        for record in records:
            try:
                file.write(_line(record))
            except ShapeError as error:
                left_out.append(f"a {record['record']} was left out: {error}")
    return left_out


def _line(record: Mapping[str, Any]) -> str:
    try:
        check_record(record)
    except ShapeError:
        record = _cleaned(record)
        check_record(record)
    try:
        return json.dumps(record, ensure_ascii=False, separators=(",", ":"), allow_nan=False) + "\n"
    except ValueError as error:
        raise ShapeError(str(error)) from None


def _cleaned(value: Any) -> Any:
    """Without what a terminal would obey: a title out of a foreign file may hold anything."""
    if isinstance(value, Mapping):
        return {_cleaned(name): _cleaned(one) for name, one in value.items()}
    if isinstance(value, list | tuple):
        return [_cleaned(one) for one in value]
    if isinstance(value, str) and not value.isprintable():
        return "".join(c if c.isprintable() or c in "\n\t" else " " for c in value)
    return value
