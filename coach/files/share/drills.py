"""Drill files that come along with records: out of the player's own drills, and into them, where
nothing is ever written over."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count
from pathlib import Path

from coach.core.exercise import Drill
from coach.errors import FileError
from coach.files.configs import data_folder, own_folder
from coach.files.drillfile import drill_of_text
from coach.files.drillwrite import drill_path, is_drill_name
from coach.files.output import private_folder, write_whole, writing
from coach.files.share.limits import MAX_DRILL_LETTERS, MAX_DRILLS


def own_drill_text(name: str) -> str | None:
    """The player's own drill file of that name as it stands, None if there is none (or none that
    could be read)."""
    return _text(own_folder() / "drills" / f"{name}.toml") if is_drill_name(name) else None


def shipped_drill_text(name: str) -> str | None:
    """The drill file that comes with the coach under that name."""
    return _text(data_folder("drills") / f"{name}.toml") if is_drill_name(name) else None


def _text(path: Path) -> str | None:
    try:
        return path.read_text("utf-8-sig")
    except (OSError, ValueError):
        return None


class ArrivingDrills:
    """Drill files out of a file of records, gathered first and written together.

    `names` says under which name each is found here: its own, or NAME-2 where a different drill has
    that name already, one of the player's or one that comes with the coach.
    """

    def __init__(self) -> None:
        self.names: dict[str, str] = {}
        self._texts: dict[str, str] = {}
        self._done: list[Path] = []
        self._count = self._letters = 0

    @property
    def written(self) -> list[str]:
        """The names of the files that are new here."""
        return sorted(self._texts)

    def add(self, name: str, text: str, where: str) -> None:
        """FileError if it is no drill, or can't be kept under a name like this."""
        if not is_drill_name(name):
            hint = "it has small letters, digits and hyphens"
            raise FileError(f'"{name[:40]}" is no name for a drill file', where, hint)
        self._count, self._letters = self._count + 1, self._letters + len(text)
        if self._count > MAX_DRILLS or self._letters > MAX_DRILL_LETTERS:
            raise FileError("too many drill files", where, f"at most {MAX_DRILLS:,} can come along")
        _check_words(drill_of_text(text, Path(f"{name}.toml"), where), where)
        self.names[name] = self._place(name, text)

    def _place(self, name: str, text: str) -> str:
        """The first name that is free, or that has this text; noted for writing if it is free."""
        for other in _numbered(name):
            found = [t for t in (self._texts.get(other), own_drill_text(other)) if t is not None]
            found = found or [t for t in [shipped_drill_text(other)] if t is not None]
            if any(_same(one, text) for one in found):
                return other
            if not found and not drill_path(other).exists():
                self._texts[other] = text
                return other
        raise AssertionError("names never end")

    def write(self) -> None:
        """Put the new ones in place; FileError if the system can't, and none of them is there."""
        try:
            for name, text in self._texts.items():
                path = drill_path(name)
                with writing(path):
                    private_folder(path.parent)
                write_whole(path, text)
                self._done.append(path)
        except FileError:
            self.take_back()
            raise

    def take_back(self) -> None:
        """As if nothing had been written."""
        for path in self._done:
            path.unlink(missing_ok=True)
        self._done.clear()


def _check_words(drill: Drill, where: str) -> None:
    """FileError if something in it, once it is shown, could do more than be read."""
    titles = (passage.title for passage in drill.variants)
    for text in (drill.title, drill.about, *drill.cautions, *titles):
        if not text.replace("\n", " ").isprintable():
            what = f"a text of {drill.name} has letters that can't be shown"
            raise FileError(what, where, "ask for it without them")


def _numbered(name: str) -> Iterator[str]:
    yield name
    for number in count(2):
        ending = f"-{number}"
        yield f"{name[: 64 - len(ending)]}{ending}"


def _same(one: str, other: str) -> bool:
    return one.splitlines() == other.splitlines()
