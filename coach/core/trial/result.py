"""What a trial came to: in figures (`Outcome`), and as a colleague would tell it (`words`)."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from statistics import fmean
from typing import Any, Literal

from coach.core.trial import counting
from coach.core.trial.order import Way
from coach.core.trial.sequential import stabilised
from coach.core.trial.trial import End, Pair, Trial, TrialTake, share_of

Verdict = Literal["a", "b", "even", "open"]
# Less can't be heard: one displaced tone in an even row from 6 ms (configs/rules.toml, FS), which
# as a spread of attacks is about half that; the lag is measured to about 3 ms (model/CARD.md).
SPREAD_HEARD_MS, LAG_HEARD_MS = 3.0, 3.0


@dataclass(frozen=True, slots=True)
class WayHeard:
    """One way's takes: the mean clean share, the mean spread of attacks about their places and how
    far tongue and valves were apart; the last two only describe, nothing was tested on them."""

    share: float | None = None
    spread_ms: float | None = None
    lag_ms: float | None = None


@dataclass(frozen=True, slots=True)
class Outcome:
    """Where a trial stands or how it ended.

    `cleaner` is "a" or "b", "even" (no difference that matters) or "open".  `difference` is the
    clean share of a less that of b; `low` and `high` bound it at the trial's rate of false
    decisions, whenever it was stopped.  An early end flatters the winner: the bounds tell more than
    the figure.  `notes` are expected in a take; `relearned` are those in which b differs from a,
    which the player knows (0 where neither is known better).
    """

    cleaner: Verdict
    ended: End
    pairs: int
    notes: int
    difference: float
    low: float
    high: float
    slowest_bpm: float
    fastest_bpm: float
    a: WayHeard
    b: WayHeard
    relearned: int
    worthwhile_share: float
    hidden_share: float

    def to_dict(self) -> dict[str, Any]:
        """As plain data: shares, beats a minute, milliseconds."""
        return _rounded(asdict(self))


def outcome_of(trial: Trial, relearned: int = 0) -> Outcome:
    """The outcome of the whole pairs so far."""
    tempi = [pair.tempo_bpm for pair in trial.pairs] or [trial.tempo_bpm]
    a, b = _heard(trial.pairs, "a"), _heard(trial.pairs, "b")
    low, high = _interval(trial)
    return Outcome(
        _cleaner(trial),
        trial.ended,
        len(trial.pairs),
        trial.notes,
        (a.share or 0.0) - (b.share or 0.0),
        low,
        high,
        min(tempi),
        max(tempi),
        a,
        b,
        relearned,
        trial.settings.worthwhile_share,
        trial.settings.hidden_share,
    )


def _cleaner(trial: Trial) -> Verdict:
    return trial.test.cleaner or ("even" if trial.test.even else "open")


def _interval(trial: Trial) -> tuple[float, float]:
    """The interval of the test, from angles to shares of clean notes, -1 to 1.

    Two angles m + d/2 and m - d/2 have shares (1 - cos) / 2, which differ by sin(m) sin(d/2); the
    angle's share (x + 3/8) / (n + 3/4) is nearer to a half than x / n by n / (n + 3/4).
    """
    takes = [take for pair in trial.pairs for take in (pair.a, pair.b)]
    low, high = trial.test.interval_rad()
    return _share(low, takes), _share(high, takes)


def _share(rad: float, takes: list[TrialTake]) -> float:
    """A difference of angles at the level of the takes, as a difference of clean shares."""
    if abs(rad) >= math.pi:
        return math.copysign(1.0, rad)
    level = fmean(stabilised(take.clean, take.counted) for take in takes)
    counted = fmean(take.counted for take in takes)
    share = math.sin(level) * math.sin(rad / 2) * (counted + 3 / 4) / counted
    return max(-1.0, min(1.0, share))


def _heard(pairs: tuple[Pair, ...], way: Way) -> WayHeard:
    takes = [pair.of(way) for pair in pairs]
    return WayHeard(
        share_of(pairs, way) if pairs else None,
        _mean(take.spread_ms for take in takes),
        _mean(take.lag_ms for take in takes),
    )


def _mean(values: Iterable[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return fmean(known) if known else None


def _rounded(data: dict[str, Any]) -> dict[str, Any]:
    return {key: _plain(value) for key, value in data.items()}


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return _rounded(value)
    return round(value, 4) if isinstance(value, float) else value


def words(outcome: Outcome, name_a: str, name_b: str, unit: str = "") -> str:
    """The outcome in sentences: how much cleaner, how sure, and what to do.

    `unit` names what b changes, such as "fingering" or "syllable"; else it is told in notes.
    """
    names: dict[Way, str] = {"a": name_a, "b": name_b}
    if outcome.cleaner == "even":
        said = _even(outcome, names)
    elif outcome.cleaner == "open":
        said = _open(outcome, names)
    else:
        said = _clear(outcome, outcome.cleaner, names, unit)
    return " ".join([said, *_described(outcome, names)])


def _clear(o: Outcome, way: Way, names: dict[Way, str], unit: str) -> str:
    size, low, high = o.difference, o.low, o.high
    if way == "b":
        size, low, high = -size, -high, -low
    missed = counting.fewer(max(size, 0.0), o.notes)
    sure = counting.between(low, high, o.notes)
    return (
        f"With {names[way]} you missed about {missed} {_tempo(o)} ({sure}){_cost(o, way, unit)} "
        + (f"{'Keep' if way == 'a' and o.relearned else 'Take'} {names[way]}.")
    )


def _cost(o: Outcome, way: Way, unit: str) -> str:
    if not o.relearned:
        return "."
    if way == "a":
        return ", and it is what you know already."
    if unit:
        return f"; it changes {counting.many(o.relearned, unit)}."
    return f"; it changes what you know on {counting.many(o.relearned, 'note')}."


def _even(o: Outcome, names: dict[Way, str]) -> str:
    advice = f"Keep what you know, {names['a']}." if o.relearned else "Take the one you like."
    return (
        f"After {_takes(o)} {_tempo(o)} they are even as far as anyone could tell: a difference of "
        f"{counting.one_in(o.worthwhile_share)} would hide in at most "
        f"{100 * o.hidden_share:.0f} trials of 100. {advice}"
    )


def _open(o: Outcome, names: dict[Way, str]) -> str:
    if not o.pairs:
        return f"No pair of takes is whole yet: it is open. {_settled_by(o, names)}"
    return (
        f"After {_takes(o)} {_tempo(o)} it is still open: in each run of {o.notes}, {names['a']} "
        f"may be cleaner by up to {counting.up_to(o.high, o.notes)}, {names['b']} by up to "
        f"{counting.up_to(-o.low, o.notes)}. {_settled_by(o, names)}"
    )


def _settled_by(o: Outcome, names: dict[Way, str]) -> str:
    if o.ended == "tired":
        return "Rest, and try them again fresh: tired lips hide a difference."
    if o.ended == "unheard":
        return "Let `coach check` listen to the place and the microphone, then begin again."
    if o.ended == "limit":
        until = f"keep what you know, {names['a']}" if o.relearned else "either will do"
        return f"A longer passage would tell more, on another day; until then {until}."
    return "More takes of each would settle it."


def _described(o: Outcome, names: dict[Way, str]) -> list[str]:
    """Evenness, and tongue against fingers, where a difference could be heard."""
    said = [
        _watched(o.a.spread_ms, o.b.spread_ms, SPREAD_HEARD_MS, "lay closer to even", names),
        _watched(
            o.a.lag_ms, o.b.lag_ms, LAG_HEARD_MS, "kept tongue and fingers closer together", names
        ),
    ]
    return [sentence for sentence in said if sentence]


def _watched(
    a_ms: float | None, b_ms: float | None, heard_ms: float, told: str, names: dict[Way, str]
) -> str:
    if a_ms is None or b_ms is None or abs(a_ms - b_ms) < heard_ms:
        return ""
    better = names["a" if a_ms < b_ms else "b"]
    low, high = sorted((a_ms, b_ms))
    return (
        f"By the way, {better} {told} ({low:.0f} against {high:.0f} ms); that was only watched, "
        "not put to the test."
    )


def _takes(o: Outcome) -> str:
    return f"{counting.many(o.pairs, 'take')} each"


def _tempo(o: Outcome) -> str:
    slow, fast = f"{o.slowest_bpm:.0f}", f"{o.fastest_bpm:.0f}"
    return f"at {slow}" if slow == fast else f"at {slow} to {fast}"
