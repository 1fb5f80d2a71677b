"""TOML files, read with one-sentence errors: file, line or key, value, and what is allowed."""

from __future__ import annotations

import difflib
import math
import re
import tomllib
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from coach.errors import FileError, reason_of
from coach.files.output import refuse_folder

LARGEST_FILE_BYTES = 1_000_000
LONGEST_LIST = 64
_PLACE = re.compile(r"\(at (?:line (\d+), column \d+|end of document)\)")


def read_toml(path: Path) -> dict[str, Any]:
    """The contents of a TOML file; FileError where it cannot be read or is not TOML."""
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST_FILE_BYTES + 1)
    except FileNotFoundError:
        raise FileError("there is no such file", str(path), "check the name") from None
    except (OSError, ValueError) as error:
        refuse_folder(path, "name a file in it")
        what = f"this file can't be read ({reason_of(error)})"
        raise FileError(what, str(path), "check its name, and that you may read it") from None
    return toml_of(raw, path)


def toml_of(raw: bytes, path: Path) -> dict[str, Any]:
    """What these bytes say; `path` names them in the FileError if they are not TOML."""
    if len(raw) > LARGEST_FILE_BYTES:
        raise FileError("this file is over a megabyte", str(path), "split it")
    try:
        return tomllib.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise FileError("this is not a text file", str(path), "save it as UTF-8") from None
    except tomllib.TOMLDecodeError as error:
        found = _PLACE.search(str(error))
        line = found.group(1) if found else None
        where = f"{path}, line {line or raw.count(10) + 1}"
        what = f"this is not TOML: {_PLACE.sub('', str(error)).strip().lower()}"
        raise FileError(what, where, "check quotes, commas and brackets there") from None
    except (ValueError, RecursionError):
        hint = "check its numbers and brackets"
        raise FileError("a number is too long or brackets too deep", str(path), hint) from None


def shown(value: object) -> str:
    """A value as TOML would write it, shortened to fit a sentence."""
    try:
        text = str(value).lower() if isinstance(value, bool) else repr(value)
    except (ValueError, RecursionError):
        return "far too large"
    text = f'"{text[1:-1]}"' if isinstance(value, str) else text
    return text if len(text) <= 60 else f"{text[:57]}..."


def nearest(name: str, names: Iterable[str]) -> str:
    """What is allowed, and the name that was probably meant."""
    names = sorted(names)
    meant = probably(name, names)
    there = f"here are: {', '.join(names)}"
    return f"did you mean {meant}? T{there}" if meant else f"t{there}"


def probably(name: str, names: Iterable[str]) -> str:
    """The names that were probably meant, "" where none is near."""
    names = sorted(names)
    meant = [one for one in names if name and name in one]
    return " or ".join(meant or difflib.get_close_matches(name, names, n=1))


class Table:
    """One table of a TOML file, read key by key.

    Every reader checks type and bounds and raises FileError naming the file, key, value and what is
    allowed; with a default of None the key must be there.  `finish` refuses keys that nobody asked
    for.
    """

    def __init__(self, values: dict[str, Any], path: Path, name: str = "") -> None:
        self._values, self._asked = values, set[str]()
        self.path, self.name = path, name

    def __contains__(self, key: str) -> bool:
        return key in self._values

    def names(self) -> tuple[str, ...]:
        """The keys that are there, in the order of the file."""
        return tuple(self._values)

    def only(self, names: Iterable[str], what: str) -> tuple[str, ...]:
        """The keys that are there; FileError where one is none of `names`, each a `what`."""
        names = tuple(names)
        for name in self._values:
            if name not in names:
                raise FileError(
                    f'there is no {what} "{name}"', str(self.path), nearest(name, names)
                )
        return self.names()

    def wrong(self, key: str, allowed: str) -> FileError:
        """The error for the value of `key`."""
        value = shown(self._values.get(key))
        return FileError(f"{self._full(key)} is {value}", str(self.path), f"it must be {allowed}")

    def wrong_entry(self, key: str, place: int | None, allowed: str) -> FileError:
        """The error for one entry of the list under `key` (for the value itself: None)."""
        if place is None:
            return self.wrong(key, allowed)
        what = f"{self._full(key)}, entry {place + 1}, is {shown(self._values[key][place])}"
        return FileError(what, str(self.path), f"it must be {allowed}")

    def finish(self) -> None:
        for key in self._values:
            if key not in self._asked:
                # repr: a quoted key may hold line ends.
                known = self._full(repr(key)[1:-1])
                what = f"unknown key {known} = {shown(self._values[key])}"
                raise FileError(what, str(self.path), nearest(key, self._asked))

    def get(self, key: str, default: Any, allowed: str) -> Any:
        """The raw value; `allowed` says in the error what a missing key should hold."""
        self._asked.add(key)
        value = self._values.get(key, default)
        if value is None:
            what = f"{self._full(key)} is missing"
            raise FileError(what, str(self.path), f"it must be {allowed}")
        return value

    def table(self, key: str) -> Table:
        """The table under `key`, empty if there is none."""
        value = self.get(key, {}, "a table")
        if not isinstance(value, dict):
            raise self.wrong(key, f"a table, [{self._full(key)}]")
        return Table(value, self.path, self._full(key))

    def tables(self, key: str) -> tuple[Table, ...]:
        """The tables under `[[key]]`, none if there is no such key."""
        values = self.get(key, [], "a list of tables")
        if not isinstance(values, list) or not all(isinstance(v, dict) for v in values):
            raise self.wrong(key, f"tables, [[{self._full(key)}]]")
        if len(values) > LONGEST_LIST:
            raise self.wrong(key, f"no longer than {LONGEST_LIST} tables")
        return tuple(Table(v, self.path, self._full(key)) for v in values)

    def text(self, key: str, default: str | None = None) -> str:
        value = self.get(key, default, "text in quotes")
        if not isinstance(value, str):
            raise self.wrong(key, "text in quotes")
        return value

    def choice(self, key: str, choices: Iterable[str], default: str | None = None) -> str:
        choices = tuple(choices)
        allowed = f"one of {', '.join(choices)}"
        value = self.get(key, default, allowed)
        if not isinstance(value, str) or value not in choices:
            raise self.wrong(key, allowed)
        return value

    def flag(self, key: str, default: bool | None = None) -> bool:
        value = self.get(key, default, "true or false")
        if not isinstance(value, bool):
            raise self.wrong(key, "true or false")
        return value

    def number(self, key: str, low: float, high: float, default: float | None = None) -> float:
        allowed = f"a number from {low:g} to {high:g}"
        value = self.get(key, default, allowed)
        if not _is_number(value) or not low <= value <= high:
            raise self.wrong(key, allowed)
        return float(value)

    def whole(self, key: str, low: int, high: int, default: int | None = None) -> int:
        allowed = f"a whole number from {low} to {high}"
        value = self.get(key, default, allowed)
        if not _is_whole(value, low, high):
            raise self.wrong(key, allowed)
        return int(value)

    def wholes(
        self, key: str, low: int, high: int, default: Sequence[int] | None = None
    ) -> tuple[int, ...]:
        allowed = f"a list of whole numbers from {low} to {high}"
        values = self._list(key, default, allowed)
        if not all(_is_whole(value, low, high) for value in values):
            raise self.wrong(key, allowed)
        return values

    def texts(
        self,
        key: str,
        default: Sequence[str] | None = None,
        allowed: str = "a list of texts",
        most: int = LONGEST_LIST,
    ) -> tuple[str, ...]:
        values = self._list(key, default, allowed, most)
        if not all(isinstance(value, str) for value in values):
            raise self.wrong(key, allowed)
        return values

    def _list(
        self, key: str, default: Sequence[Any] | None, allowed: str, most: int = LONGEST_LIST
    ) -> tuple[Any, ...]:
        """A list; empty only by default."""
        values = self.get(key, default, allowed)
        if key in self._values and not (isinstance(values, list) and values):
            raise self.wrong(key, f"{allowed}, not empty")
        if len(values) > most:
            raise self.wrong(key, f"no longer than {most} entries")
        return tuple(values)

    def _full(self, key: str) -> str:
        return f"{self.name}.{key}" if self.name else key


def _is_number(value: object) -> bool:
    if isinstance(value, bool):
        return False
    return isinstance(value, int) or (isinstance(value, float) and math.isfinite(value))


def _is_whole(value: object, low: int, high: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and low <= value <= high
