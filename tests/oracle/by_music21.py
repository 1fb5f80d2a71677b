"""The brass parts of a MusicXML file as music21 plays them: an oracle for our reader.

music21 is given only the parts asked for (it takes minutes for whole movements); it joins ties by
`stripTies`, sounds by `toSoundingPitch` and plays repeats out by `expandRepeats`.
"""

from __future__ import annotations

import io
import warnings
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Collection, Iterator
from fractions import Fraction
from pathlib import Path

Played = tuple[Fraction, Fraction, int]


def score_xml(path: Path) -> bytes:
    """The MusicXML text of a file, out of its archive if it is packed."""
    data = path.read_bytes()
    if data[:2] != b"PK":
        return data
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        [name] = [n for n in archive.namelist() if not n.startswith("META-INF")]
        return archive.read(name)


def only_parts(xml: bytes, ids: Collection[str]) -> str:
    """The same score with these parts alone."""
    root = ET.fromstring(xml)
    for part in [p for p in root.findall("part") if p.get("id") not in ids]:
        root.remove(part)
    part_list = root.find("part-list")
    assert part_list is not None
    for entry in list(part_list):
        if entry.tag != "score-part" or entry.get("id") not in ids:
            part_list.remove(entry)
    return ET.tostring(root, encoding="unicode")


def first_bars(text: str, count: int) -> str:
    """The same score, cut off after so many bars."""
    root = ET.fromstring(text)
    for part in root.findall("part"):
        for measure in part.findall("measure")[count:]:
            part.remove(measure)
    return ET.tostring(root, encoding="unicode")


def part_ids(xml: bytes) -> list[tuple[str, str]]:
    """(id, name) of every part, in order."""
    found = ET.fromstring(xml).iter("score-part")
    return [(p.get("id") or "", p.findtext("part-name") or "") for p in found]


def printed(text: str) -> list[list[Played]]:
    """For each part as it is printed, repeats not played out: (onset, length, sounding pitch) of
    every note without grace notes, in order; of chords the highest note."""
    return [_printed(part) for part in _parsed(text).parts]


def bar_order(text: str) -> list[int] | None:
    """The numbers of the first part's bars with its repeats played out; None where music21 finds
    the repeats badly formed.  It does not follow D.C. and D.S. that are said by <sound> alone."""
    from music21 import repeat

    try:
        expanded = _parsed(text).parts[0].expandRepeats()
    except repeat.ExpanderException:
        return None
    return [bar.number for bar in expanded.getElementsByClass("Measure")]


def _parsed(text: str):
    from music21 import converter

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return converter.parseData(text, format="musicxml")


def all_printed(text: str) -> list[list[Played]]:
    """As `printed`, with every note of the chords."""
    return [_all(part) for part in _parsed(text).parts]


def _printed(part) -> list[Played]:
    return [max(chord, key=lambda note: note[2]) for chord in _chords(part)]


def _all(part) -> list[Played]:
    return [note for chord in _chords(part) for note in chord]


def _chords(part) -> Iterator[list[Played]]:
    for note in part.toSoundingPitch().stripTies().flatten().notes:
        if not note.duration.isGrace:
            onset, length = Fraction(note.offset), Fraction(note.duration.quarterLength)
            yield [(onset, length, pitch.midi) for pitch in note.pitches]
