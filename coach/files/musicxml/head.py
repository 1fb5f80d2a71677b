"""The head of the file: titles, and the list of parts."""

from __future__ import annotations

from dataclasses import dataclass
from xml.etree.ElementTree import Element

from coach.files.musicxml.limits import MAX_TITLE
from coach.files.musicxml.values import number_in, one_line


@dataclass(frozen=True, slots=True)
class Listed:
    """An entry of the list of parts; `sound` as in `Part.sound`."""

    id: str
    name: str
    sound: str


class Head:
    """What stands before the music, element by element."""

    def __init__(self) -> None:
        self.listed: list[Listed] = []
        self._work = self._movement = self._credit = ""

    @property
    def title(self) -> str:
        """Work and movement; what is printed on the first page if the file names neither."""
        names = [self._work, self._movement]
        told = [name for place, name in enumerate(names) if name and name not in names[:place]]
        return ", ".join(told) or self._credit

    def read(self, element: Element) -> None:
        if element.tag == "work":
            self._work = one_line(element.findtext("work-title"), MAX_TITLE)
        elif element.tag == "movement-title":
            self._movement = one_line(element.text, MAX_TITLE)
        elif element.tag == "part-list":
            self.listed.extend(_listed(entry) for entry in element.iterfind("score-part"))
        elif element.tag == "credit" and not self._credit:
            kinds = {one_line(kind.text, 40) for kind in element.iterfind("credit-type")}
            words = " ".join(w.text or "" for w in element.iterfind("credit-words"))
            self._credit = one_line(words, MAX_TITLE) if "title" in kinds else ""


def _listed(entry: Element) -> Listed:
    own = entry.get("id", "")
    texts = ("part-name", "score-instrument/instrument-name", "part-abbreviation")
    names = [one_line(entry.findtext(path), MAX_TITLE) for path in texts]
    return Listed(own, next((n for n in names if n), one_line(own, MAX_TITLE)), _sound(entry))


def _sound(entry: Element) -> str:
    """The sound's name, else its General MIDI program, counted from 0 as in MIDI files."""
    name = one_line(entry.findtext("score-instrument/instrument-sound"), 80)
    program = number_in(entry, "midi-instrument/midi-program")
    if name or program is None or not 1 <= program <= 128:
        return name
    return f"program {int(program) - 1}"
