"""The weakest things first, in words for the player."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from coach.core.findings.weigh import SMALLEST_LAG_MS
from coach.core.fingering.moves import FingerMove
from coach.core.profile.estimate import Estimate
from coach.core.profile.profile import Profile
from coach.core.profile.tallies import ARTICULATION, MOVE, REGISTER, SYLLABLE, move_name

# So much weighs as much as every note going wrong: 10 ms or 3 dB as one fault more in ten (design
# judgement).
MS_FOR_ALL, DB_FOR_ALL = 100.0, 30.0


@dataclass(frozen=True, slots=True)
class Weakness:
    """Notes of one sort that surely go worse than the others; `trouble` is by how much, as a share
    of notes, and ranks them.  `kind` and `name` as in the tallies."""

    kind: str
    name: str
    words: str
    trouble: float


def weakest(profile: Profile, most: int) -> list[Weakness]:
    """Up to `most` weaknesses, the greatest trouble first.

    Counted is only what the favourable end of the interval still leaves: few notes tell of no
    weakness.
    """
    found = [weak for weak in _everything(profile) if weak.trouble > 0]
    return sorted(found, key=lambda weak: (-weak.trouble, weak.kind, weak.name))[:most]


def move_words(move: FingerMove) -> str:
    """ "1 up and 3 down", "1+2 up and thumb down"."""
    lever, _, way = move.thumb.partition(" ")
    thumb = "thumb" if lever == "T" else f"lever {lever}"
    parts = [
        f"{'+'.join(move.ups)} up" if move.ups else "",
        f"{'+'.join(move.downs)} down" if move.downs else "",
        f"{thumb} {way}" if lever else "",
    ]
    return " and ".join(part for part in parts if part)


def _everything(profile: Profile) -> Iterator[Weakness]:
    usual = profile.clean.value
    for move, seen in profile.moves.items():
        told = f"{move_words(move)}: {_late(seen.value)}{_share(seen.clean)}"
        trouble = max(0.0, _off_ms(seen.value)) / MS_FOR_ALL + _fewer(seen.clean, usual)
        yield Weakness(MOVE, move_name(move), told, trouble)
    for name, seen in profile.registers.items():
        told = f"{name} register: {_late(seen.value)}{_share(seen.clean)}"
        trouble = abs(_off_ms(seen.value)) / MS_FOR_ALL + _fewer(seen.clean, usual)
        yield Weakness(REGISTER, name, told, trouble)
    for name, clean in profile.articulations.items():
        told = f"{name} notes: {_share(clean)}, all notes {100 * usual:.0f} %"
        yield Weakness(ARTICULATION, name, told, _fewer(clean, usual))
    yield _back(profile)


def _back(profile: Profile) -> Weakness:
    level, fewer = profile.back_level_db, profile.back_clean
    clean, front = profile.syllables["back"].clean, profile.syllables["front"].clean
    softer = f"{-level.value:.1f} dB softer than the front one "
    softer += f"({-level.high:.1f} to {-level.low:.1f}), "
    told = softer if level.high < 0 else ""
    told += f"{_share(clean)}, the front one {100 * front.value:.0f} %"
    trouble = max(0.0, -level.high) / DB_FOR_ALL + max(0.0, -fewer.high)
    return Weakness(SYLLABLE, "back", f"back syllable: {told}", trouble)


def _fewer(clean: Estimate, usual: float) -> float:
    """By how much the share surely lies under the usual one."""
    return max(0.0, usual - clean.high)


def _off_ms(ms: Estimate) -> float:
    """How late it surely is (early: negative); 0 where that is not sure or nobody hears it."""
    if abs(ms.value) < SMALLEST_LAG_MS:
        return 0.0
    return max(0.0, ms.low) + min(0.0, ms.high)


def _late(ms: Estimate) -> str:
    """ "late by 18 ms (11 to 25), ", where that is sure."""
    off_ms = _off_ms(ms)
    if off_ms > 0:
        return f"late by {ms.value:.0f} ms ({ms.low:.0f} to {ms.high:.0f}), "
    if off_ms < 0:
        return f"early by {-ms.value:.0f} ms ({-ms.high:.0f} to {-ms.low:.0f}), "
    return ""


def _share(clean: Estimate) -> str:
    return f"clean {100 * clean.value:.0f} %"
