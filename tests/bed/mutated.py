"""Score files spoiled at random: what the readers must survive."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from random import Random

from coach.core.score.choose import line_of
from coach.errors import CoachError, FileError
from coach.files.abc import abc_text
from coach.files.configs import load_instrument
from coach.files.drillshelf import list_drills, load_drill
from coach.files.musicxmlwrite import musicxml_text
from coach.files.scorefile import score_of_bytes
from coach.files.smf import smf_bytes

LARGEST_SEED = 8_000
_NUMBER = re.compile(rb"\d+")
_LEAF = re.compile(rb"<([a-z][a-z-]*)[^<>]*>[^<]*</\1>|<[a-z][a-z-]*[^<>]*/>")
_NUMBERS = (b"0", b"-1", b"1", b"7", b"255", b"65535", b"1000000000", b"1e9", b"0.5", b"")


def seeds(scores: Path | None, own: int = 12) -> dict[str, list[bytes]]:
    """Whole files to spoil, by reader: our own drills written in each form, and the small ones of a
    folder of scores."""
    horn = load_instrument("double-horn")
    drills = [load_drill(row.name)[0] for row in list_drills()[:own]]
    made = {
        "musicxml": [musicxml_text(d.variants[0], horn, d.to_bpm).encode() for d in drills],
        "smf": [smf_bytes(d.variants[0], horn, d.to_bpm) for d in drills],
        "abc": [abc_text(d.variants[0], horn, d.to_bpm).encode() for d in drills],
    }
    for path in sorted(scores.rglob("*")) if scores else []:
        kind = {".xml": "musicxml", ".musicxml": "musicxml", ".mxl": "musicxml", ".mid": "smf"}
        if path.is_file() and path.suffix in kind and 0 < path.stat().st_size <= LARGEST_SEED:
            made[kind[path.suffix]].append(path.read_bytes())
    return made


def spoiled(data: bytes, other: bytes, random: Random) -> bytes:
    """One to four changes: bytes, numbers, pieces lost, doubled, moved, or out of another file."""
    for _ in range(random.randint(1, 4)):
        data = random.choice(_CHANGES)(data, other, random) or b"\0"
    return data


def _byte(data: bytes, other: bytes, random: Random) -> bytes:
    at = random.randrange(len(data))
    return data[:at] + bytes([random.randrange(256)]) + data[at + 1 :]


def _cut(data: bytes, other: bytes, random: Random) -> bytes:
    return data[: random.randrange(len(data))] if random.random() < 0.5 else _lost(data, random)


def _lost(data: bytes, random: Random) -> bytes:
    first, last = sorted(random.choices(range(len(data)), k=2))
    return data[:first] + data[last:]


def _doubled(data: bytes, other: bytes, random: Random) -> bytes:
    first, last = sorted(random.choices(range(len(data)), k=2))
    return data[:last] + data[first : min(last, first + 2000)] * random.randint(1, 3) + data[last:]


def _spliced(data: bytes, other: bytes, random: Random) -> bytes:
    first, last = sorted(random.choices(range(len(other)), k=2))
    at = random.randrange(len(data))
    return data[:at] + other[first : min(last, first + 500)] + data[at:]


def _numbered(data: bytes, other: bytes, random: Random) -> bytes:
    found = list(_NUMBER.finditer(data))
    if not found:
        return data
    one = random.choice(found)
    return data[: one.start()] + random.choice(_NUMBERS) + data[one.end() :]


def _element(data: bytes, other: bytes, random: Random) -> bytes:
    """An element without others inside it lost, doubled, or put in place of another: the text stays
    XML, so that the reader gets further than its parser."""
    found = list(_LEAF.finditer(data))
    if not found:
        return _byte(data, other, random)
    one, two = random.choice(found), random.choice(found)
    put = random.choice([b"", one.group() * 2, two.group()])
    return data[: one.start()] + put + data[one.end() :]


_CHANGES = (
    _element,
    _element,
    _element,
    _byte,
    _byte,
    _cut,
    _doubled,
    _spliced,
    _numbered,
    _numbered,
)


def inputs(files: list[bytes], random: Random) -> Iterator[bytes]:
    """Spoiled files without end."""
    while True:
        yield spoiled(random.choice(files), random.choice(files), random)


def read_whole(data: bytes) -> str:
    """Read it, and play out every part: "notes", "no notes" or "error"; anything but one of our
    errors goes through."""
    try:
        score = score_of_bytes(data, "spoiled")
    except FileError:
        return "error"
    notes = 0
    for part in score.parts:
        try:
            notes += len(line_of(score, part).notes)
        except CoachError:
            return "error"
    return "notes" if notes else "no notes"
