"""A take as JSON and back, nothing lost: beats as exact fractions, frames as integers.

In the book the text is packed (zlib).
"""

from __future__ import annotations

import hashlib
import json
import zlib
from dataclasses import asdict
from typing import Any

from coach.book.kinds import beats_of, made, one, whole_number
from coach.core.exercise import ClickStyle, Exercise
from coach.core.passage import MeterChange, Note, Passage
from coach.core.share.takes import checked_passage
from coach.core.take import Attack, Gap, Take
from coach.core.timeline import Click, Due, Plan
from coach.core.warp import Warp

# Of the text of a take: one of 2,000 notes, the most that a drill has, has 1.3 MB.
MOST_BYTES = 64_000_000


def take_to_json(take: Take) -> str:
    """The whole take as one JSON text."""
    return json.dumps(asdict(take), default=str, separators=(",", ":"))


def take_from_json(text: str) -> Take:
    """The take that `take_to_json` wrote; ValueError if it is none."""
    try:
        return take_from_data(json.loads(text))
    except RecursionError:
        raise ValueError("its brackets are nested too deep") from None


def take_from_data(data: dict[str, Any]) -> Take:
    """As `take_from_json`, of the parsed text."""
    try:
        take = _take(data)
    except (KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"{type(error).__name__}: {error}") from None
    if [due.index for due in take.plan.dues] != list(range(len(take.plan.exercise.passage.notes))):
        raise ValueError("its due notes are not those of its passage")
    return take


def _take(data: dict[str, Any]) -> Take:
    parts = {
        "plan": _plan(data["plan"]),
        "attacks": made(Attack, data["attacks"]),
        "gaps": made(Gap, data["gaps"]),
    }
    return one(Take, {**data, **parts})


def packed(text: str) -> bytes:
    return zlib.compress(text.encode())


def unpacked(data: bytes) -> str:
    """ValueError if it is nothing that `packed` made, or more than `MOST_BYTES`."""
    try:
        unpacking = zlib.decompressobj()
        text = unpacking.decompress(data, MOST_BYTES)
    except (zlib.error, TypeError) as error:
        raise ValueError(str(error)) from None
    if not unpacking.eof:
        raise ValueError("it is cut off, or far too large")
    return text.decode()


def passage_to_json(passage: Passage) -> str:
    """What makes a version of a passage: one list a note, of sounding pitch, start and length in
    quarter notes, whether it is slurred, syllable and fingering."""
    notes = [
        (n.pitch, str(n.start_beats), str(n.length_beats), n.slurred, n.syllable, n.fingering)
        for n in passage.notes
    ]
    return json.dumps(notes, separators=(",", ":"))


def passage_digest(passage: Passage) -> str:
    """32 hexadecimal digits, the same for the same version."""
    return digest_of(passage_to_json(passage))


def digest_of(text: str) -> str:
    """The digest of the version that `passage_to_json` wrote."""
    return hashlib.blake2b(text.encode(), digest_size=16).hexdigest()


def _plan(data: dict[str, Any]) -> Plan:
    parts = {
        "exercise": _exercise(data["exercise"]),
        "dues": made(Due, data["dues"]),
        "clicks": made(Click, data["clicks"]),
    }
    return one(Plan, {**data, **parts})


def _exercise(data: dict[str, Any]) -> Exercise:
    click = data["click"]
    bars = click["off_bars"]
    if bars:
        on, off = bars
        bars = (whole_number(on), whole_number(off))
    style = one(ClickStyle, {**click, "off_bars": bars or None})
    warp = _warp(data["warp"]) if data.get("warp") else None
    passage = checked_passage(_passage(data["passage"]))
    return one(Exercise, {**data, "passage": passage, "click": style, "warp": warp})


def _warp(data: dict[str, Any]) -> Warp:
    pairs = {
        name: tuple((beats_of(beat), beats_of(value)) for beat, value in data[name])
        for name in ("steps", "holds")
    }
    return Warp(**pairs)


def _passage(data: dict[str, Any]) -> Passage:
    beats = {k: beats_of(data[k]) for k in ("bar_beats", "pulse_beats")}
    changes = tuple(_change(change) for change in data.get("changes", ()))
    notes = made(Note, [_note(note) for note in data["notes"]])
    return one(Passage, {**data, **beats, "notes": notes, "changes": changes})


def _change(data: dict[str, Any]) -> MeterChange:
    return MeterChange(**{name: beats_of(value) for name, value in data.items()})


def _note(data: dict[str, Any]) -> dict[str, Any]:
    return {**data, **{k: beats_of(data[k]) for k in ("start_beats", "length_beats")}}
