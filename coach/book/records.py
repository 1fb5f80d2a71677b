"""A take as JSON and back, nothing lost: beats as exact fractions, frames as integers.

In the book the text is packed (zlib).
"""

from __future__ import annotations

import hashlib
import json
import zlib
from dataclasses import asdict
from fractions import Fraction
from typing import Any

from coach.core.exercise import ClickStyle, Exercise
from coach.core.passage import MeterChange, Note, Passage
from coach.core.take import Attack, Gap, Take
from coach.core.timeline import Click, Due, Plan
from coach.core.warp import Warp


def take_to_json(take: Take) -> str:
    """The whole take as one JSON text."""
    return json.dumps(asdict(take), default=str, separators=(",", ":"))


def take_from_json(text: str) -> Take:
    """The take that `take_to_json` wrote; ValueError or KeyError if it is none."""
    return take_from_data(json.loads(text))


def take_from_data(data: dict[str, Any]) -> Take:
    """As `take_from_json`, of the parsed text."""
    return Take(
        **{
            **data,
            "plan": _plan(data["plan"]),
            "attacks": tuple(Attack(**a) for a in data["attacks"]),
            "gaps": tuple(Gap(**g) for g in data["gaps"]),
        }
    )


def packed(text: str) -> bytes:
    return zlib.compress(text.encode())


def unpacked(data: bytes) -> str:
    """ValueError if it is nothing that `packed` made."""
    try:
        return zlib.decompress(data).decode()
    except zlib.error as error:
        raise ValueError(str(error)) from None


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
    return Plan(
        **{
            **data,
            "exercise": _exercise(data["exercise"]),
            "dues": tuple(Due(**d) for d in data["dues"]),
            "clicks": tuple(Click(**c) for c in data["clicks"]),
        }
    )


def _exercise(data: dict[str, Any]) -> Exercise:
    click = data["click"]
    off_bars = tuple(click["off_bars"]) if click["off_bars"] else None
    style = ClickStyle(**{**click, "off_bars": off_bars})
    warp = _warp(data["warp"]) if data.get("warp") else None
    passage = _passage(data["passage"])
    return Exercise(**{**data, "passage": passage, "click": style, "warp": warp})


def _warp(data: dict[str, Any]) -> Warp:
    pairs = {
        name: tuple((Fraction(beat), Fraction(value)) for beat, value in data[name])
        for name in ("steps", "holds")
    }
    return Warp(**pairs)


def _passage(data: dict[str, Any]) -> Passage:
    beats = {k: Fraction(data[k]) for k in ("bar_beats", "pulse_beats")}
    changes = tuple(_change(change) for change in data.get("changes", ()))
    notes = tuple(_note(n) for n in data["notes"])
    return Passage(**{**data, **beats, "notes": notes, "changes": changes})


def _change(data: dict[str, Any]) -> MeterChange:
    return MeterChange(**{name: Fraction(value) for name, value in data.items()})


def _note(data: dict[str, Any]) -> Note:
    beats = {k: Fraction(data[k]) for k in ("start_beats", "length_beats")}
    return Note(**{**data, **beats})
