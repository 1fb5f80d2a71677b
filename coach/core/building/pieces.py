"""Steps on pieces of a passage, or on the passage changed: each with its tempo and its reason.

A step is None, or has no variants, where the passage is too short for it or has nothing of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from coach.core.building.made import Made, still
from coach.core.building.today import Today, rotated
from coach.core.passage import Passage
from coach.core.variants.fingers import exchanges as finger_exchanges
from coach.core.variants.fingers import slur_then_tongue
from coach.core.variants.fragments import add_a_note, slow_and_fragments
from coach.core.variants.fragments import bursts as bursts_of
from coach.core.variants.fragments import windows as windows_of
from coach.core.variants.others import accents as accents_every
from coach.core.variants.others import air_first
from coach.core.variants.rhythm import rhythms as rhythms_of
from coach.core.variants.tongue import tonguing
from coach.core.warmup.reach import playable

WINDOW_CLICKS = 2
MOST_GROWING = 8
# A stage of the tonguing ladder: on one note, on a scale, on the passage.
_RUNGS = 4
_SLOWEST_SHARE = 0.95


def rhythms(today: Today, turn: int) -> Made | None:
    group = today.in_a_click if today.in_a_click in (3, 4) else 4
    if len(today.piece.notes) <= group:
        return None
    bpm = today.pieces_bpm
    made = [*rhythms_of(today.piece, 2), *rhythms_of(today.piece, group)]
    return still(
        "long and short",
        "One note of every group is long and the others come quickly; each take it is another one.",
        f"at {bpm:g} with one long note in each group, every take another: so each change of finger"
        " is the quick one for once",
        rotated(made, 2 * turn),
        bpm,
    )


def exchanges(today: Today, turn: int) -> Made | None:
    made = finger_exchanges(today.piece)
    if not made:
        return None
    bpm = today.pieces_bpm
    first = made[0].title.rpartition(": ")[2].partition(",")[0]
    return still(
        "finger changes",
        "Two notes to and fro, slurred and then tongued.",
        f"at {bpm:g}, {first} to and fro and the other changes that come often: under a slur you"
        " hear whether the fingers move at one moment, then the tongue joins them",
        rotated(made, 2 * turn),
        bpm,
    )


def slurs(today: Today, _: int) -> Made | None:
    if len(today.piece.notes) < 3:
        return None
    bpm = today.pieces_bpm
    return still(
        "slurred, then tongued",
        "All under one slur, then every note tongued, by turns.",
        f"at {bpm:g} all under one slur and then all tongued: the slur shows what the air and the"
        " fingers do without the tongue's help",
        slur_then_tongue(today.piece),
        bpm,
    )


def tongue(today: Today, turn: int) -> Made | None:
    """The ladder of the passage's own tonguing; the next stage in the next turn."""
    pattern = _pattern(today.piece)
    if pattern is None:
        return None
    name, front, back = pattern
    made = [p for p in tonguing(today.piece, name, front, back) if _is_playable(p, today)]
    return Made(
        "the tongue alone",
        "First the back syllable alone, then on the beat, then both: on one note, a scale, the"
        " passage.",
        f"for the tongue, from {today.slow_bpm:g} up to {today.aim_bpm:g}: {back} is to speak as"
        f" clearly as {front} before both are wanted at speed",
        rotated(made, _RUNGS * turn),
        min(today.slow_bpm, today.aim_bpm),
        today.aim_bpm,
    )


def _pattern(passage: Passage) -> tuple[str, str, str] | None:
    """Name of the tonguing pattern, front and back syllable; None where there is no back one."""
    spoken = [note.syllable for note in passage.notes if note.syllable]
    backs = [s for s in spoken if s[0] in "kg"]
    fronts = [s for s in spoken if s[0] not in "kg"]
    if not (backs and fronts):
        return None
    letters = "".join("k" if s[0] in "kg" else "t" for s in spoken)
    thirds = 3 * min(note.length_beats for note in passage.notes) == passage.pulse_beats
    found = [name for name in ("tktktk", "ttk", "tkt") if thirds and letters.startswith(name)]
    return (found or ["double"])[0], fronts[0], backs[0]


def _is_playable(passage: Passage, today: Today) -> bool:
    moved = today.instrument.transposition
    own = {note.pitch for note in today.piece.notes}
    return all(n.pitch in own or playable(today.instrument, n.pitch + moved) for n in passage.notes)


def windows(today: Today, turn: int) -> Made | None:
    size = _window_notes(today)
    if size >= len(today.piece.notes):
        return None
    return Made(
        "piece by piece",
        "A few beats and the note on which they land, then the next few.",
        f"in pieces of {size} notes from {today.pieces_bpm:g} to {today.aim_bpm:g}, each running"
        " into the next: short enough to think of every note",
        rotated(windows_of(today.piece, size, today.in_a_click), turn),
        min(today.pieces_bpm, today.aim_bpm),
        today.aim_bpm,
    )


def _window_notes(today: Today) -> int:
    """So many clicks of notes, and the one on which they land."""
    return WINDOW_CLICKS * today.in_a_click + 1


def bursts(today: Today, turn: int) -> Made | None:
    sizes = sorted({2, 3, today.in_a_click + 1, _window_notes(today)})
    made = bursts_of(today.piece, [size for size in sizes if size < len(today.piece.notes)])
    return still(
        "bursts",
        "A few notes at the goal, then a stop: think, then play the next few.",
        f"in bursts at the goal of {today.to_bpm:g}, with a stop after each: so short a burst goes"
        " at full tempo today, and in the stop you hear the next one before you play it",
        rotated(made, turn),
        today.to_bpm,
    )


def contrast(today: Today, turn: int) -> Made | None:
    size = _window_notes(today)
    if size >= len(today.piece.notes):
        return None
    share = min(_SLOWEST_SHARE, round(today.slow_bpm / today.to_bpm, 2))
    slowly, *_ = slow_and_fragments(today.piece, share, size)
    fast = windows_of(today.piece, size, today.in_a_click)
    return still(
        "whole and slow, pieces and fast",
        "The whole slowly, two pieces at the goal, the whole slowly, the next two ...",
        f"at {share * today.to_bpm:.0f} beside pieces of it at {today.to_bpm:g}: slowly the air"
        " stays whole, and the pieces keep the goal in the ear",
        _by_turns(slowly, rotated(fast, turn)),
        today.to_bpm,
    )


def _by_turns(slowly: Passage, pieces: Sequence[Passage]) -> list[Passage]:
    return [passage for k in range(0, len(pieces), 2) for passage in (slowly, *pieces[k : k + 2])]


def adding(today: Today, turn: int) -> Made | None:
    """From the beginning in one turn, from the end in the next."""
    count = len(today.piece.notes)
    if count < 4:
        return None
    by = math.ceil((count - 2) / MOST_GROWING)
    more = "a note" if by == 1 else f"{by} notes"
    aim = f"at today's aim of {today.aim_bpm:g}"
    if turn % 2:
        what, end = "more each time, from the end", "front"
        why = f"{aim}, begun {more} earlier each take: you always play on into what you know"
    else:
        what, end = "more each time", "back"
        why = f"{aim}, from the beginning and {more} further each take: only the last is new"
    made = add_a_note(today.piece, end, by)
    return still(what, "A little more each take, until it is all.", why, made, today.aim_bpm)


def accents(today: Today, turn: int) -> Made | None:
    every = max(2, today.in_a_click)
    across = 4 if every == 3 else 3
    if len(today.piece.notes) <= max(every, across):
        return None
    bpm = today.pieces_bpm
    made = [*accents_every(today.piece, every)[1:], *accents_every(today.piece, across)]
    return still(
        "accents off the beat",
        "The accent sits on another note each take; the notes stay even.",
        f"at {bpm:g} with accents beside the beat: the notes inside the groups, which are easily"
        " lost, lead for once",
        rotated(made, turn),
        bpm,
    )


def slow(today: Today, _: int) -> Made:
    """The whole passage, and before it the breath alone."""
    bpm = today.slow_bpm
    return still(
        "slow, with full air",
        "First the breath alone with the fingers, then the notes with the same breath.",
        f"whole at {bpm:g}, on air alone and then played: at this tempo the air and the fingers"
        " learn what comes fast later",
        [*air_first(today.passages[0]), *today.passages[1:]],
        bpm,
    )
