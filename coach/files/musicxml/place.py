"""Where in the file the reader is, in words, and what it has to remark."""

from __future__ import annotations

from coach.errors import FileError


class Place:
    """`where` of errors, and remarks; what happens often is one remark with its count."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.part = ""
        self.bar = ""
        self._plain: list[str] = []
        self._counted: dict[str, tuple[int, str]] = {}

    @property
    def _inside(self) -> list[str]:
        named = (("part", self.part), ("bar", self.bar))
        return [f"{word} {name}" for word, name in named if name]

    def error(self, what: str, hint: str = "") -> FileError:
        return FileError(what, ", ".join([self.file, *self._inside]), hint)

    def remark(self, sentence: str) -> None:
        self._plain.append(f"{sentence}.")

    def count(self, what: str) -> None:
        """One more of these: "Cue notes left out: 12 (first in part Horn, bar 3)."."""
        count, first = self._counted.get(what, (0, ", ".join(self._inside)))
        self._counted[what] = (count + 1, first)

    @property
    def remarks(self) -> tuple[str, ...]:
        made = list(self._plain)
        for what, (count, first) in self._counted.items():
            place = f" ({'first in ' if count > 1 else ''}{first})" if first else ""
            made.append(f"{what}: {count}{place}.")
        return tuple(made)
