"""How many notes are spelled as they are printed: `python -m tests.benchmarks.spelling [FOLDER]`.

The horn, trumpet and trombone parts of the orchestral movements beside the checkout (or the
MusicXML files in FOLDER), beside names by the key alone (`name_of_midi`).  Counted apart: the notes
outside the scale of the key, where alone there is a choice worth the name.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from coach.core.passage import Note, Passage
from coach.core.pitch import Spelled, midi_of_name, name_of_midi
from coach.core.score.model import Head, Part, Score
from coach.core.spelling import spelled
from coach.files.scorefile import read_score
from tests.conftest import SHARED

BRASS = re.compile(r"horn|corn|trumpet|tromb|tromp", re.IGNORECASE)
ALTERS = {"": 0, "#": 1, "b": -1}


@dataclass
class Count:
    """Notes, and those spelled as printed by us and by the key alone; `chromatic` of each."""

    notes: int = 0
    ours: int = 0
    plain: int = 0
    chromatic: int = 0
    ours_chromatic: int = 0
    plain_chromatic: int = 0

    def add(self, printed: Spelled, ours: Spelled, plain: Spelled, fifths: int) -> None:
        outside = not in_scale(printed, fifths)
        self.notes += 1
        self.ours += ours == printed
        self.plain += plain == printed
        self.chromatic += outside
        self.ours_chromatic += outside and ours == printed
        self.plain_chromatic += outside and plain == printed


def in_scale(name: Spelled, fifths: int) -> bool:
    place = "FCGDAEB".index(name.letter) - 1 + 7 * name.alter
    return fifths - 1 <= place <= fifths + 5


def by_key(midi: int, fifths: int) -> Spelled:
    name = name_of_midi(midi, fifths)
    made = Spelled(name[0], ALTERS["".join(c for c in name[1:] if c in "#b")], midi // 12 - 1)
    assert made.midi == midi_of_name(name)
    return made


def stretches(score: Score, part: Part) -> Iterator[tuple[list[Spelled], Passage]]:
    """The printed names between two changes of key, and the same as a passage (top notes)."""
    fifths, at = 0, Fraction(0)
    names: list[Spelled] = []
    notes: list[Note] = []
    for frame, bar in zip(score.frames, part.bars, strict=True):
        if bar.keys and bar.keys[-1][1] != fifths:
            if notes:
                yield names, Passage(tuple(notes), fifths=fifths)
            names, notes, fifths = [], [], bar.keys[-1][1]
        for onset, head in sorted(top(bar.heads).items()):
            start = at + onset
            if not notes or start >= notes[-1].end_beats:
                names.append(head.written)
                notes.append(Note(head.written.midi, start, head.length))
        at += frame.length
    if notes:
        yield names, Passage(tuple(notes), fifths=fifths)


def top(heads: tuple[Head, ...]) -> dict[Fraction, Head]:
    """The highest note at each onset."""
    found: dict[Fraction, Head] = {}
    for head in heads:
        there = found.get(head.onset)
        if head.length and (there is None or there.written.midi < head.written.midi):
            found[head.onset] = head
    return found


def count_score(path: Path, total: Count) -> Iterator[tuple[Part, list[Spelled], Passage]]:
    score = read_score(path)
    for part in score.parts:
        if BRASS.search(part.name):
            for names, passage in stretches(score, part):
                for printed, ours in zip(names, spelled(passage, 0), strict=True):
                    plain = by_key(printed.midi, passage.fifths)
                    total.add(printed, ours, plain, passage.fifths)
                yield part, names, passage


def main() -> None:
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else SHARED / "scores" / "orchestra"
    total = Count()
    for path in sorted(folder.glob("*.mxl")) + sorted(folder.glob("*.musicxml")):
        list(count_score(path, total))
    print(f"{total.notes} notes: {_share(total.ours, total.notes)} as printed,")
    print(f"  by the key alone {_share(total.plain, total.notes)}")
    print(f"{total.chromatic} outside the scale: {_share(total.ours_chromatic, total.chromatic)},")
    print(f"  by the key alone {_share(total.plain_chromatic, total.chromatic)}")


def _share(part: int, whole: int) -> str:
    return f"{100 * part / max(whole, 1):.2f} %"


if __name__ == "__main__":
    main()
