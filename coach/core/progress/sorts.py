"""Notes of one sort beside another: syllables, registers, strokes, each with its interval."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from coach.core.profile.estimate import Estimate
from coach.core.profile.profile import Profile, Seen

# Under this share of evidence an estimate is mostly what was assumed beforehand.
TELLS = 0.5
# Nobody hears a smaller difference of level between two notes (common practice, no source).
HEARD_DB = 1.0


@dataclass(frozen=True, slots=True)
class SortRow:
    """One line of a picture."""

    name: str
    estimate: Estimate

    @property
    def tells(self) -> bool:
        """Whether the takes say more of it than what was assumed."""
        return self.estimate.measured >= TELLS


@dataclass(frozen=True, slots=True)
class Compared:
    """Rows with a value of their own (dB, ms) beside the share of them that was clean."""

    values: tuple[SortRow, ...]
    clean: tuple[SortRow, ...]

    @property
    def tells(self) -> bool:
        return any(row.tells for row in (*self.values, *self.clean))


def syllables_of(profile: Profile) -> Compared:
    """Level in dB and share clean of front and back syllables, and of single tonguing."""
    return _compared(profile.syllables)


def registers_of(profile: Profile) -> Compared:
    """Deviation in ms and share clean of the registers, the highest first."""
    names = [name for name in ("high", "middle", "low") if name in profile.registers]
    return _compared({name: profile.registers[name] for name in names})


def _compared(seen: Mapping[str, Seen]) -> Compared:
    played = {name: one for name, one in seen.items() if one.clean.count}
    return Compared(
        tuple(SortRow(name, one.value) for name, one in played.items()),
        tuple(SortRow(name, one.clean) for name, one in played.items()),
    )


def limits_of(profile: Profile) -> tuple[SortRow, ...]:
    """Notes a second by stroke, of strokes that were played at all."""
    return tuple(SortRow(name, one) for name, one in profile.limits.items() if one.count)


def syllables_words(profile: Profile) -> str:
    """Whether the back syllable is as loud and as clean as the front one."""
    level, fewer = profile.back_level_db, profile.back_clean
    if min(level.measured, fewer.measured) < TELLS:
        return "Too few notes with both syllables to tell."
    loud = abs(level.value) < HEARD_DB or level.low <= 0 <= level.high
    clean = fewer.low <= 0 <= fewer.high
    if loud and clean:
        return "Yes, as far as can be told: about as loud, and as often clean."
    told = [] if loud else [_level(level)]
    told += [] if clean else [_fewer(fewer)]
    return f"No: the back syllable is {' and '.join(told)}."


def _level(level: Estimate) -> str:
    side = "softer" if level.value < 0 else "louder"
    low, high = sorted((abs(level.low), abs(level.high)))
    return f"{abs(level.value):.1f} dB {side} ({low:.1f} to {high:.1f})"


def _fewer(fewer: Estimate) -> str:
    side = "less" if fewer.value < 0 else "more"
    return f"{side} often clean (by {100 * abs(fewer.value):.0f} notes in a hundred)"


def registers_words(compared: Compared) -> str:
    """The register in which fewest notes are clean, where that is sure."""
    rows = [row for row in compared.clean if row.tells]
    if len(rows) < 2:
        return "Too few registers were played to tell them apart."
    worst, best = (pick(rows, key=lambda row: row.estimate.value) for pick in (min, max))
    if worst.estimate.high >= best.estimate.low:
        return "No register surely goes worse than another."
    values = {row.name: row.estimate for row in compared.values}
    off = values[worst.name]
    late = f"{abs(off.value):.0f} ms {'late' if off.value > 0 else 'early'}"
    also = f", and it comes {late}" if off.low > 0 or off.high < 0 else ""
    shares = f"{_percent(worst)} clean, {best.name} {_percent(best)}"
    return f"The {worst.name} register: {shares}{also}."


def _percent(row: SortRow) -> str:
    return f"{100 * row.estimate.value:.0f} %"


def limits_words(rows: Sequence[SortRow]) -> str:
    """ "Single 7.8, double 10.4 notes a second, nine in ten of them clean."."""
    told = [row for row in rows if row.tells]
    if not told:
        return "No row of notes was quick enough yet to find a limit."
    named = ", ".join(f"{row.name} {row.estimate.value:.1f}" for row in told)
    return f"{named[0].upper()}{named[1:]} notes a second, nine in ten of them clean."
