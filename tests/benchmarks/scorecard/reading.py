"""Seconds to read the shared scores beside music21 and mido, and whether the notes are the same."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from coach.core.score.choose import line_of
from coach.core.score.model import Score, Signs
from coach.core.score.partnames import instrument_of
from coach.files.scorefile import read_score
from tests.benchmarks.scorecard.processes import busy, least_busy
from tests.benchmarks.scorecard.rows import Figure
from tests.benchmarks.scorecard.scorefiles import SCORES, movements, music21_of
from tests.files.smf.seconds import timed_notes
from tests.oracle.by_music21 import only_parts, part_ids, printed, score_xml

# Every so manieth movement by size, from the smallest on.
EVERY, QUICK_MOVEMENTS, QUICK_SUITE = 3, 1, 4
# Seconds of two readers are the same within so many places.
PLACES = 4
Notes = Counter[tuple[Any, ...]]


def measured(quick: bool) -> dict[str, Figure]:
    """Figures for rows.READING."""
    music21_of(SCORES / "musicxml-test-suite" / "01a-Pitches-Pitches.xml")  # what it sets up once
    paths = movements()[::EVERY][: QUICK_MOVEMENTS if quick else None]
    suite = sorted((SCORES / "musicxml-test-suite").glob("*.*xml"))[:: QUICK_SUITE if quick else 1]
    return {**_movements(paths), "suite": _suite(suite), **_midi()}


def _movements(paths: Sequence[Path]) -> dict[str, Figure]:
    ours_s, theirs_s = (_seconds(paths, reader) for reader in (read_score, music21_of))
    same = [_same_brass(path) for path in paths]
    agree, notes = (sum(pair[k] for pair in same) for k in (0, 1))
    return {
        "movements": Figure(ours_s, theirs_s, f"{len(paths)} files"),
        "movement notes": Figure(agree / notes, None, f"{notes:,}"),
    }


def _seconds(paths: Iterable[Path], reader: Callable[[Path], Any]) -> float:
    """One after the other, none of them kept."""
    return sum(busy(lambda path=path: len(reader(path).parts))[1] for path in paths)


def _same_brass(path: Path) -> tuple[int, int]:
    """(Notes of the brass parts that both have, all that either has): onset, length and pitch as
    they are printed, ties joined."""
    score, xml = read_score(path), score_xml(path)
    ids = [one for one, _ in part_ids(xml)]
    brass = [k for k, part in enumerate(score.parts) if instrument_of(part.name, part.sound)]
    theirs = printed(only_parts(xml, [ids[k] for k in brass]))
    plain = replace(score, frames=tuple(replace(f, signs=Signs()) for f in score.frames))
    return _agreeing((_line(plain, k) for k in brass), (Counter(part) for part in theirs))


def _line(score: Score, place: int) -> Notes:
    line = line_of(score, score.parts[place])
    return Counter((n.onset, n.length, n.sounding) for n in line.sounded)


def _agreeing(ours: Iterable[Notes], theirs: Iterable[Notes]) -> tuple[int, int]:
    pairs = list(zip(ours, theirs, strict=True))
    return sum((a & b).total() for a, b in pairs), sum((a | b).total() for a, b in pairs)


def _suite(paths: Sequence[Path]) -> Figure:
    ours, theirs = (_read(paths, reader) / len(paths) for reader in (read_score, music21_of))
    return Figure(ours, theirs, f"{len(paths)} files")


def _read(paths: Iterable[Path], reader: Callable[[Path], Any]) -> int:
    """How many files give anything at all."""
    return sum(_told(reader, path) is not None for path in paths)


def _told(reader: Callable[[Path], Any], path: Path) -> Any | None:
    """What a reader makes of a file; None if it gives up, in whatever way."""
    try:
        return reader(path)
    except Exception:
        return None


def _midi() -> dict[str, Figure]:
    paths = sorted((SCORES / "smf-tests").glob("*.mid"))
    ours = {path: _told(our_notes, path) for path in paths}
    theirs = {path: _told(mido_notes, path) for path in paths}
    sounding = [path for path in paths if ours[path] or theirs[path]]
    both = [path for path in sounding if ours[path] and theirs[path]]
    agree, notes = _agreeing([ours[p] for p in both], [theirs[p] for p in both])
    _, ours_s = least_busy(lambda: [our_notes(path) for path in both], 9)
    _, theirs_s = least_busy(lambda: [mido_notes(path) for path in both], 9)
    shares = [sum(bool(notes[p]) for p in sounding) / len(sounding) for notes in (ours, theirs)]
    return {
        "midi": Figure(1000 * ours_s, 1000 * theirs_s, f"{len(both)} files"),
        "midi notes": Figure(agree / notes, None, f"{notes:,}"),
        "midi files": Figure(*shares, f"{len(sounding)} files"),
    }


def our_notes(path: Path) -> Notes:
    """(Pitch, on, off) in seconds of every note."""
    return Counter(
        (note.pitch, round(float(note.on_seconds), PLACES), round(float(note.off_seconds), PLACES))
        for voice in timed_notes(path.read_bytes(), path.name)
        for note in voice.notes
    )


def mido_notes(path: Path) -> Notes:
    """The same from mido's messages: a note ends with the next message that ends its pitch."""
    import mido

    now, open_notes, found = 0.0, {}, []
    for message in mido.MidiFile(path):
        now += message.time
        if message.type not in ("note_on", "note_off"):
            continue
        key = message.channel, message.note
        if key in open_notes:
            found.append((message.note, round(open_notes.pop(key), PLACES), round(now, PLACES)))
        if message.type == "note_on" and message.velocity:
            open_notes[key] = now
    return Counter(found)
