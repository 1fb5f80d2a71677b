"""Where in the file the reader is, in words, and what it has to remark."""

from __future__ import annotations

from coach.errors import FileError


class Place:
    """`where` of errors, and remarks: one sentence for each kind, with how often and where first.

    A remark is a sentence with "{n}" for how often.
    """

    def __init__(self, file: str) -> None:
        self.file = file
        self.part = ""
        self.bar = ""
        self._remarks: dict[str, tuple[int, str]] = {}

    @property
    def _inside(self) -> list[str]:
        named = (("part", self.part), ("bar", self.bar))
        return [f"{word} {name}" for word, name in named if name]

    def error(self, what: str, hint: str = "") -> FileError:
        return FileError(what, ", ".join([self.file, *self._inside]), hint)

    def remark(self, sentence: str) -> None:
        count, first = self._remarks.get(sentence, (0, ", ".join(self._inside)))
        self._remarks[sentence] = (count + 1, first)

    @property
    def remarks(self) -> tuple[str, ...]:
        made = []
        for sentence, (count, first) in self._remarks.items():
            place = f" ({'first in ' if count > 1 else ''}{first})" if first else ""
            made.append(sentence.replace("{n}", str(count)) + place + ".")
        return tuple(made)
