"""How well the truth of takes was heard: attacks and verdicts (lags: lags.py).

Attack times are compared after removing a method's constant bias (the median error over all takes
together; a method that reports the expected times is granted the bias of each take, for it knows
nothing of the player).  F-measure, precision and recall are those of onset detection: each true
attack pairs with at most one heard attack within the window, as many pairs as possible.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.bed.pairs import f_of, matched
from tests.bed.take import Take, Truth, intervals

Floats = NDArray[np.float64]

REGISTERS = (("low", 0, 52), ("mid", 53, 64), ("high", 65, 127))
NEAREST_S, NEAREST_SHARE = 0.05, 0.45
CLICK_S = 0.001
EXTRA_WINDOW_S = 0.025


@dataclass(frozen=True, slots=True)
class NoteHeard:
    """What a method says of one expected note; no verdict from methods that give none."""

    attack_s: float | None
    verdict: str | None = None
    lag_ms: float | None = None


@dataclass(frozen=True, slots=True)
class Heard:
    """What a method says of a take: `notes` one per expected note, or none from a method that
    knows no score; `attacks` every attack it heard, seconds."""

    attacks: tuple[float, ...]
    notes: tuple[NoteHeard, ...] = ()


@dataclass(frozen=True, slots=True)
class Row:
    """One true note beside what was heard for it."""

    truth: Truth
    heard_s: float | None
    verdict: str | None
    lag_ms: float | None
    interval_s: float
    on_click: bool


@dataclass(frozen=True, slots=True)
class Scored:
    """One take heard by one method; `seconds` of work for `sound_s` of sound."""

    rows: tuple[Row, ...]
    attacks: tuple[float, ...]
    extras: tuple[float, ...]
    sound_s: float
    seconds: float = 0.0


@dataclass(frozen=True, slots=True)
class Timing:
    """Shares and milliseconds; `found` is the share of true attacks with anything heard for them,
    `registers` (median, 95th percentile, notes) by register.  `bias_ms` is the median of heard
    minus true attack over all notes, positive when heard late; `biases_ms` the same of the kept
    notes by register, the bias of all not taken out."""

    f10: float
    f25: float
    hit10: float
    hit25: float
    found: float
    median_ms: float
    p95_ms: float
    registers: dict[str, tuple[float, float, int]]
    count: int
    bias_ms: float
    biases_ms: dict[str, float]


@dataclass(frozen=True, slots=True)
class Verdicts:
    """Shares: of clean notes called anything else (unsure apart), of all notes judged right (unsure
    left out), of all notes unsure; recall by kind, and the notes of each kind."""

    false_alarms: float
    right: float
    unsure: float
    recall: dict[str, float]
    counts: dict[str, int]
    confused: dict[tuple[str, str], int]
    extra_recall: float


def scored(take: Take, heard: Heard, seconds: float = 0.0) -> Scored:
    """Put the truth of a take beside what was heard."""
    onsets = take.onsets_s
    spans = intervals(onsets)
    clicks = np.array(take.expected.get("clicks_s", [-1.0]))
    rows = []
    for truth in take.truth:
        k = truth.index
        note = heard.notes[k] if heard.notes else NoteHeard(None)
        on_click = bool(np.min(np.abs(clicks - onsets[k])) < CLICK_S)
        rows.append(Row(truth, note.attack_s, note.verdict, note.lag_ms, spans[k], on_click))
    if not heard.notes:
        rows = _with_nearest(rows, heard.attacks)
    sound_s = len(take.samples) / take.rate
    return Scored(tuple(rows), tuple(sorted(heard.attacks)), take.extras, sound_s, seconds)


def _with_nearest(rows: Sequence[Row], attacks: Sequence[float]) -> list[Row]:
    """For a method without a score: the nearest attack to each true one."""
    heard = np.array(sorted(attacks))
    made = []
    for row in rows:
        at, found = row.truth.attack_s, None
        if at is not None and len(heard):
            nearest = float(heard[np.argmin(np.abs(heard - at))])
            reach = min(NEAREST_S, NEAREST_SHARE * row.interval_s)
            found = nearest if abs(nearest - at) <= reach else None
        made.append(Row(row.truth, found, None, None, row.interval_s, row.on_click))
    return made


def _any(row: Row) -> bool:
    return True


def timing(
    takes: Sequence[Scored],
    *,
    keep: Callable[[Row], bool] = _any,
    per_take_bias: bool = False,
    bias_s: float | None = None,
) -> Timing:
    """The attacks of the rows that `keep` keeps and that were played; the bias is that of all, or
    `bias_s` where it is known better (takes on which the method gets lost have none of their own).
    """
    takes = [t for t in takes if any(_played(r, keep) for r in t.rows)]
    errors = [_errors(t) for t in takes]
    everything = np.concatenate(errors) if errors else np.zeros(0)
    common = float(np.median(everything)) if len(everything) else 0.0
    shared = common if bias_s is None else bias_s
    biases = [(float(np.median(e)) if len(e) else 0.0) if per_take_bias else shared for e in errors]
    windows = {w: _pooled(takes, biases, keep, w / 1000) for w in (10, 25)}
    off = [(r, o) for t, b in zip(takes, biases, strict=True) for r, o in _rows_off(t, b, keep)]
    sizes = np.array([1000 * o for _, o in off if o is not None])
    count = len(off)
    hits = {w: float(np.sum(sizes <= w + 1e-6)) / max(1, count) for w in (10, 25)}
    return Timing(
        windows[10],
        windows[25],
        hits[10],
        hits[25],
        len(sizes) / max(1, count),
        *spread(sizes),
        _by_register(off),
        count,
        1000 * common,
        _biases([r for t in takes for r in t.rows if _played(r, keep)]),
    )


def _played(row: Row, keep: Callable[[Row], bool]) -> bool:
    return row.truth.attack_s is not None and row.truth.mark_kind != "unknown" and keep(row)


def _errors(take: Scored) -> Floats:
    return np.array(
        [
            r.heard_s - r.truth.attack_s
            for r in take.rows
            if _played(r, _any) and r.heard_s is not None and r.truth.attack_s is not None
        ]
    )


def _rows_off(
    take: Scored, bias: float, keep: Callable[[Row], bool]
) -> list[tuple[Row, float | None]]:
    return [
        (r, None if r.heard_s is None else abs(r.heard_s - bias - (r.truth.attack_s or 0.0)))
        for r in take.rows
        if _played(r, keep)
    ]


def _pooled(
    takes: Sequence[Scored], biases: Sequence[float], keep: Callable[[Row], bool], window_s: float
) -> float:
    """F over all takes together.  What was heard counts as wrong only near the kept notes, if not
    all notes are kept."""
    pairs = true = heard = 0
    for take, bias in zip(takes, biases, strict=True):
        kept = [r for r in take.rows if _played(r, keep)]
        at = [r.truth.attack_s or 0.0 for r in kept]
        attacks = [a - bias for a in take.attacks]
        if len(kept) < sum(r.truth.attack_s is not None for r in take.rows):
            attacks = [a for a in attacks if _is_near(a, kept)]
        else:
            at += take.extras
        pairs += matched(at, attacks, window_s)
        true, heard = true + len(at), heard + len(attacks)
    return f_of(pairs, true, heard)[0]


def _is_near(attack_s: float, rows: Sequence[Row]) -> bool:
    return any(
        abs(attack_s - (r.truth.attack_s or 0.0)) <= min(NEAREST_S, NEAREST_SHARE * r.interval_s)
        for r in rows
    )


def spread(sizes_ms: Floats) -> tuple[float, float]:
    """(Median, 95th percentile), nan of nothing."""
    if not len(sizes_ms):
        return float("nan"), float("nan")
    return float(np.median(sizes_ms)), float(np.percentile(sizes_ms, 95))


def _by_register(off: Sequence[tuple[Row, float | None]]) -> dict[str, tuple[float, float, int]]:
    found = {}
    for name, low, high in REGISTERS:
        sizes = np.array(
            [1000 * o for r, o in off if o is not None and low <= r.truth.midi <= high]
        )
        found[name] = (*spread(sizes), len(sizes))
    return found


def _biases(rows: Sequence[Row]) -> dict[str, float]:
    """Median of heard minus true attack in ms, by register; nan where nothing was heard."""
    off = [
        (r.truth.midi, 1000 * (r.heard_s - r.truth.attack_s))
        for r in rows
        if r.heard_s is not None and r.truth.attack_s is not None
    ]
    found = {}
    for name, low, high in REGISTERS:
        mine = [ms for midi, ms in off if low <= midi <= high]
        found[name] = float(np.median(mine)) if mine else float("nan")
    return found


def verdicts(takes: Iterable[Scored]) -> Verdicts:
    """The verdicts of a method against the truth; a verdict that would be as fair counts too."""
    takes = list(takes)
    rows = [r for t in takes for r in t.rows if r.truth.mark_kind != "unknown"]
    sure = [r for r in rows if r.verdict != "unsure"]
    clean = [r for r in sure if r.truth.kind == "clean"]
    kinds = sorted({r.truth.kind for r in rows})
    confused: dict[tuple[str, str], int] = {}
    for row in rows:
        if not _fair(row):
            pair = (row.truth.kind, row.verdict or "")
            confused[pair] = confused.get(pair, 0) + 1
    return Verdicts(
        share(clean, lambda r: not _fair(r)),
        share(sure, _fair),
        share(rows, lambda r: r.verdict == "unsure"),
        {kind: share([r for r in rows if r.truth.kind == kind], _fair) for kind in kinds},
        {kind: sum(r.truth.kind == kind for r in rows) for kind in kinds},
        confused,
        _extra_recall(takes),
    )


def _fair(row: Row) -> bool:
    return row.verdict == row.truth.kind or row.verdict in row.truth.also


def share(items: Sequence[Any], test: Callable[[Any], bool]) -> float:
    """The share of the items that pass, nan of none."""
    return sum(map(test, items)) / len(items) if items else float("nan")


def _extra_recall(takes: Sequence[Scored]) -> float:
    pairs = [(at, take.attacks) for take in takes for at in take.extras]
    return share(pairs, lambda p: any(abs(heard - p[0]) <= EXTRA_WINDOW_S for heard in p[1]))
