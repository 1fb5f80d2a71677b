"""A judged take in figures, and as the JSON that `coach assess` writes."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, linear_regression, median, pstdev
from typing import Any

from coach.core.rules import Rules
from coach.core.take import Attack, Gap, Verdict
from coach.core.verdicts import Context

# A player within 4 % of the click is taken to be with it: the drift and jitter of a careless take
# of two dozen notes come to 3 %.  Tempo is compared over four notes, a beat of most drills.
OFF_CLICK_SHARE = 0.04
SPAN_NOTES, FEWEST_SPANS = 4, 8
SAME_SIDE_SHARE, LINE_SHARE, RIGHT_SHARE = 0.75, 0.1, 0.7


@dataclass(frozen=True, slots=True)
class SyllableStats:
    """How the notes on one syllable came out; `interval_ratio` is the mean interval that follows
    against the mean of all."""

    count: int
    level_db: float | None
    rise_ms: float | None
    interval_ratio: float | None
    clean_share: float


@dataclass(frozen=True, slots=True)
class Report:
    """One judged take.  Frames are relative to `origin_frame` in the JSON (second 0)."""

    verdicts: tuple[Verdict, ...]
    extra: tuple[Attack, ...]
    gaps: tuple[Gap, ...]
    rate: int
    accuracy: float
    passed: bool
    offset_ms: float
    spread_ms: float | None
    evenness_cv: float | None
    tempo_ratio: float
    tuning_cents: float
    syllables: dict[str, SyllableStats]
    remarks: tuple[str, ...] = ()
    origin_frame: int = 0

    @property
    def counts(self) -> dict[str, int]:
        """How many notes got each verdict."""
        found: dict[str, int] = {}
        for verdict in self.verdicts:
            found[verdict.kind] = found.get(verdict.kind, 0) + 1
        return found

    @property
    def said(self) -> tuple[str, ...]:
        """Sentences about the take as a whole: the remarks, and that it was not with the click."""
        ratio = tempo_off_click(self.verdicts)
        return (*self.remarks, *(() if ratio is None else (f"{off_click_words(ratio)}.",)))

    def to_dict(self) -> dict[str, Any]:
        """The result as plain data: seconds, milliseconds, cents, decibels."""
        rate, origin = self.rate, self.origin_frame
        return {
            "notes": [note_dict(v, rate, origin) for v in self.verdicts],
            "extra": [
                {
                    "attack_s": _rounded((a.frame - origin) / rate, 5),
                    "midi": None if a.pitch is None else round(a.pitch - self.tuning_cents / 100),
                }
                for a in self.extra
            ],
            "accuracy": _rounded(self.accuracy, 4),
            "passed": self.passed,
            "offset_ms": _rounded(self.offset_ms, 2),
            "spread_ms": _rounded(self.spread_ms, 2),
            "evenness_cv": _rounded(self.evenness_cv, 4),
            "tempo_ratio": _rounded(self.tempo_ratio, 4),
            "tuning_cents": _rounded(self.tuning_cents, 1),
            "syllables": {
                name: {
                    "count": s.count,
                    "level_db": _rounded(s.level_db, 2),
                    "rise_ms": _rounded(s.rise_ms, 2),
                    "interval_ratio": _rounded(s.interval_ratio, 4),
                    "clean_share": _rounded(s.clean_share, 4),
                }
                for name, s in self.syllables.items()
            },
            "gaps": [
                {
                    "start_s": _rounded((g.frame - origin) / rate, 5),
                    "length_s": _rounded(g.length_frames / rate, 5),
                }
                for g in self.gaps
            ],
            "remarks": list(self.said),
        }


def note_dict(verdict: Verdict, rate: int, origin_frame: int) -> dict[str, Any]:
    """One verdict as plain data, times in seconds from `origin_frame`."""
    attack = verdict.attack
    per_ms = rate / 1000
    heard = attack is not None
    return {
        "index": verdict.index,
        "verdict": verdict.kind,
        "attack_s": _rounded((attack.frame - origin_frame) / rate, 5) if attack else None,
        "deviation_ms": _rounded(_over(verdict.deviation_frames, per_ms), 2),
        "midi": verdict.midi,
        "cents": _rounded(verdict.cents, 1),
        "level_db": _rounded(verdict.level_db, 2),
        "rise_ms": _rounded(_over(attack.rise_frames, per_ms), 2) if attack else None,
        "lag_ms": _rounded(_over(attack.lag_frames, per_ms), 2) if attack else None,
        "confidence": _rounded(verdict.confidence if heard else _missing_confidence(verdict), 3),
    }


def report_of(
    verdicts: Sequence[Verdict],
    extra: Sequence[Attack],
    gaps: Sequence[Gap],
    context: Context,
    rules: Rules,
    rate: int,
) -> Report:
    """Sum up a take from its verdicts."""
    accuracy = accuracy_of(verdicts)
    right = _right(verdicts)
    deviations = [v.deviation_frames for v in right if v.deviation_frames is not None]
    ratios = [ratio for _, ratio in _interval_ratios(verdicts)]
    return Report(
        tuple(verdicts),
        tuple(extra),
        tuple(gaps),
        rate,
        accuracy,
        accuracy >= rules.pass_share - 1e-9,
        context.offset_frames * 1000 / rate,
        pstdev(deviations) * 1000 / rate if len(deviations) > 1 else None,
        pstdev(ratios) / fmean(ratios) if len(ratios) > 1 else None,
        tempo_ratio(right),
        context.tuning_cents,
        _syllables(verdicts, rate),
    )


def accuracy_of(verdicts: Sequence[Verdict]) -> float:
    """Clean notes over expected notes, "unsure" left out of both; 0 if nothing is left."""
    counted = [v for v in verdicts if v.kind != "unsure"]
    return sum(v.kind == "clean" for v in counted) / len(counted) if counted else 0.0


def tempo_ratio(right: Sequence[Verdict]) -> float:
    """The player's tempo against the written one: the slope of a least-squares line of attacks
    over dues, inverted.  1.0 where fewer than four notes were heard."""
    points = [(v.due.frame, v.attack.frame) for v in right if v.attack]
    if len({due for due, _ in points}) < 4:
        return 1.0
    slope, _ = linear_regression(*zip(*points, strict=True))
    return 1 / slope if slope > 0 else 1.0


def tempo_off_click(verdicts: Sequence[Verdict]) -> float | None:
    """The player's tempo against the click's, if it was another throughout: None within 4 % of it,
    where too few of the notes were heard, and for who kept the tempo but drifted or started again
    late.

    The figure is the median over all spans of four notes, which a single break hardly bends; the
    line through all attacks (`tempo_ratio`), which a break bends most, must say nearly the same,
    and most of the spans must be on the same side.
    """
    right = _right(verdicts)
    spans = [
        (b.due.frame - a.due.frame) / (b.attack.frame - a.attack.frame)
        for a, b in zip(right, right[SPAN_NOTES:], strict=False)
        if a.attack and b.attack and b.attack.frame > a.attack.frame
    ]
    if len(spans) < FEWEST_SPANS or len(right) < RIGHT_SHARE * len(verdicts):
        return None
    ratio = median(spans)
    line = tempo_ratio(right)
    side = 1 if ratio > 1 else -1
    departs = all(side * (r - 1) > OFF_CLICK_SHARE for r in (ratio, line))
    steady = abs(line / ratio - 1) <= LINE_SHARE
    agreeing = sum(side * (span - 1) > 0 for span in spans)
    return ratio if departs and steady and agreeing >= SAME_SIDE_SHARE * len(spans) else None


def off_click_words(ratio: float) -> str:
    """ "You played 30 % slower than the click", of a tempo 0.7 times the click's."""
    side = "slower" if ratio < 1 else "faster"
    return f"You played {100 * abs(ratio - 1):.0f} % {side} than the click"


def _right(verdicts: Sequence[Verdict]) -> list[Verdict]:
    """The notes that were heard as what they should be."""
    return [v for v in verdicts if v.attack and v.kind not in ("wrong", "unsure")]


def _interval_ratios(verdicts: Sequence[Verdict]) -> list[tuple[int, float]]:
    """(place, played interval / written interval) for neighbours that were both heard."""
    found = []
    for place, (a, b) in enumerate(itertools.pairwise(verdicts)):
        if a.attack and b.attack and b.due.frame > a.due.frame:
            played = b.attack.frame - a.attack.frame
            found.append((place, played / (b.due.frame - a.due.frame)))
    return found


def _syllables(verdicts: Sequence[Verdict], rate: int) -> dict[str, SyllableStats]:
    ratios = dict(_interval_ratios(verdicts))
    mean_ratio = fmean(ratios.values()) if ratios else 1.0
    names = sorted({v.due.syllable for v in verdicts if v.due.syllable})
    return {name: _stats(name, verdicts, ratios, mean_ratio, rate) for name in names}


def _stats(
    name: str,
    verdicts: Sequence[Verdict],
    ratios: dict[int, float],
    mean_ratio: float,
    rate: int,
) -> SyllableStats:
    places = [k for k, v in enumerate(verdicts) if v.due.syllable == name]
    mine = [verdicts[k] for k in places]
    rises = [
        v.attack.rise_frames * 1000 / rate
        for v in mine
        if v.attack and v.attack.rise_frames is not None
    ]
    levels = [v.level_db for v in mine if v.level_db is not None]
    following = [ratios[k] / mean_ratio for k in places if k in ratios]
    return SyllableStats(
        len(mine),
        fmean(levels) if levels else None,
        fmean(rises) if rises else None,
        fmean(following) if following else None,
        accuracy_of(mine),
    )


def _missing_confidence(verdict: Verdict) -> float:
    return 0.0 if verdict.kind == "unsure" else verdict.confidence


def _over(value: float | None, divisor: float) -> float | None:
    return None if value is None else value / divisor


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
