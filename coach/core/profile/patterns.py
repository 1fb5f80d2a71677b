"""How a passage is tongued: the shortest cycle of its syllables, or of slurs and tongues.

Only its quick notes are looked at, in runs without a long note or rest between; the cycle is read
from the first note on a click.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby, pairwise
from statistics import median

from coach.core.passage import Note, Passage

FEWEST_NOTES = 4
LONGEST_CYCLE = 12
# Nearly all notes go by the cycle; so many of the notes that could be are slurred under one slur
# (design judgement).
NEARLY = 0.9
# Later than this many usual intervals after the one before, a note begins a new run.
LONG_RATIO = 1.5
_NUMBERS = (
    *("one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)
_SLURRED, _TONGUED = "~", "tongued"


def tonguing_of(passage: Passage) -> str | None:
    """ "ta ka", "ta ta ka", "ta": the syllables; "slurred"; "two slurred, two tongued"; "tongued"
    where no syllables are written; "lip slurs" on one fingering.  None if there is no cycle or too
    few notes tell.

    Where notes are slurred, slurs and tongues are told and no syllables.
    """
    runs = [run for run in _runs(passage.notes) if len(run) >= FEWEST_NOTES]
    joined = [note.slurred for run in runs for note in run[1:]]
    if not joined:
        return None
    if sum(joined) >= NEARLY * len(joined):
        return "lip slurs" if on_one_fingering(passage) else "slurred"
    if sum(joined) > (1 - NEARLY) * len(joined):
        return _slurs(_cycle(runs, [[_stroke(note) for note in run] for run in runs], passage))
    said = [[note.syllable or _TONGUED for note in run] for run in runs]
    cycle = _cycle(runs, said, passage)
    return " ".join(cycle) if cycle else None


def on_one_fingering(passage: Passage) -> bool:
    """Whether it is written so: the lips alone change the notes."""
    fingerings = {note.fingering for note in passage.notes}
    return len(fingerings) == 1 and None not in fingerings


def _stroke(note: Note) -> str:
    return _SLURRED if note.slurred else _TONGUED


def _runs(notes: Sequence[Note]) -> list[list[Note]]:
    if len(notes) < FEWEST_NOTES:
        return []
    usual = median(float(b.start_beats - a.start_beats) for a, b in pairwise(notes))
    runs = [[notes[0]]]
    for before, note in pairwise(notes):
        if float(note.start_beats - before.start_beats) > LONG_RATIO * usual:
            runs.append([])
        runs[-1].append(note)
    return runs


def _cycle(
    runs: Sequence[Sequence[Note]], said: Sequence[Sequence[str]], passage: Passage
) -> list[str]:
    """The shortest cycle that nearly all notes go by, from a tongued note on a click; [] if none
    comes twice."""
    longest = max(map(len, said))
    for length in range(1, min(LONGEST_CYCLE, longest // 2) + 1):
        same = [a == b for row in said for a, b in zip(row, row[length:], strict=False)]
        if sum(same) >= NEARLY * len(same):
            at = max(range(len(said)), key=lambda k: len(said[k]))
            begin = _beginning(runs[at], said[at], passage, length)
            return list(said[at][begin : begin + length])
    return []


def _beginning(run: Sequence[Note], said: Sequence[str], passage: Passage, length: int) -> int:
    """Where the cycle begins: on a click, if a tongued note of its first round is on one."""
    tongued = [k for k in range(length) if said[k] != _SLURRED]
    clicks = [k for k in tongued if run[k].start_beats % passage.pulse_beats == 0]
    return next(iter(clicks or tongued), 0)


def _slurs(cycle: Sequence[str]) -> str | None:
    """ "two slurred, two tongued" of one tongued note with its slurred ones after the other."""
    if _SLURRED not in cycle:
        return None
    groups: list[int] = []
    for each in cycle:
        if each == _TONGUED:
            groups.append(1)
        elif groups:
            groups[-1] += 1
    told = []
    for size, same in groupby(groups):
        if size == 1:
            told.append(f"{_NUMBERS[len(list(same)) - 1]} tongued")
        else:
            told += [f"{_NUMBERS[size - 1]} slurred"] * len(list(same))
    return ", ".join(told)
