"""A whole MusicXML file to a score."""

from __future__ import annotations

from coach.core.score.model import Part, Score
from coach.files.musicxml import limits
from coach.files.musicxml.archive import is_archive, score_bytes
from coach.files.musicxml.barlines import read_barline
from coach.files.musicxml.frames import FrameDraft, frames_of
from coach.files.musicxml.head import Head, Listed
from coach.files.musicxml.part import PartReader
from coach.files.musicxml.place import Place
from coach.files.musicxml.stream import Bar, PartKey, pieces


def read_musicxml(data: bytes, where: str) -> Score:
    """The score in the bytes of a MusicXML file, plain or zipped (.mxl), told by their content.

    `where` names the file in errors.  FileError, with part and bar, for anything that cannot be
    read; what can be read with something left out is read, and `Score.remarks` says what.
    """
    place = Place(where)
    reader = _ScoreReader(place)
    for piece in pieces(score_bytes(data, place) if is_archive(data) else data, place):
        if isinstance(piece, Bar):
            reader.bar(piece)
        else:
            reader.head.read(piece)
    place.part = place.bar = ""
    return reader.score()


class _ScoreReader:
    def __init__(self, place: Place) -> None:
        self.head = Head()
        self._place = place
        self._parts: dict[PartKey, PartReader] = {}
        self._drafts: list[FrameDraft] = []
        self._cells = 0
        self._notes = 0

    def bar(self, bar: Bar) -> None:
        place = self._place
        place.part, place.bar = self._name(bar.part), bar.number
        part = self._parts.setdefault(bar.part, PartReader(place))
        while len(self._drafts) <= bar.index:
            self._drafts.append(FrameDraft(bar.number, bar.implicit))
        part.skip_to(bar.index)
        before = part.notes
        part.read(bar.content, self._drafts[bar.index])
        for barline in bar.content.iterfind("barline"):
            read_barline(barline, self._drafts, bar.index, place)
        self._count(part.notes - before)

    def _count(self, notes: int) -> None:
        self._cells += 1
        self._notes += notes
        if self._notes > limits.MAX_NOTES:
            raise self._place.error(f"the score has more than {limits.MAX_NOTES:,} notes and rests")
        if max(self._cells, len(self._parts) * len(self._drafts)) > limits.MAX_CELLS:
            raise self._place.error("the score has more bars and parts than any orchestra")

    def _name(self, key: PartKey) -> str:
        entry = self._entry(key)
        return entry.name if entry and entry.name else key[0][:40] or "without a name"

    def _entry(self, key: PartKey) -> Listed | None:
        """The entry in the list of parts; a part without an id can only be the only one."""
        listed = self.head.listed
        if not key[0] and len(listed) == 1:
            return listed[0]
        return next((entry for entry in listed if entry.id == key[0]), None)

    def score(self) -> Score:
        place = self._place
        if not self._parts:
            raise place.error("the file has no bars of music")
        count = len(self._drafts)
        parts = tuple(self._part(key, count) for key in self._in_order())
        frames = frames_of(self._drafts, place)
        self._check_parts(count)
        return Score(self.head.title, parts, frames, place.remarks)

    def _in_order(self) -> list[PartKey]:
        """As in the list of parts; those that are not listed come last, as they come."""
        order = {entry.id: place for place, entry in reversed(list(enumerate(self.head.listed)))}
        return sorted(self._parts, key=lambda key: order.get(key[0], len(order)))

    def _part(self, key: PartKey, count: int) -> Part:
        reader, entry = self._parts[key], self._entry(key)
        name = self._name(key)
        bars = reader.bars(count)
        if reader.unpitched and not any(bar.heads for bar in bars):
            self._place.remark(f"Part {name} has no pitched notes")
        return Part(name, bars, reader.transposition, entry.sound if entry else "")

    def _check_parts(self, count: int) -> None:
        place = self._place
        for key, reader in self._parts.items():
            if self._entry(key) is None:
                place.count("Parts that are not in the list of parts")
            if reader.read_bars < count:
                place.count("Parts with fewer bars than the others, silent there")
        read = {id(self._entry(key)) for key in self._parts}
        for entry in self.head.listed:
            if id(entry) not in read:
                place.count("Parts of the list without music")
