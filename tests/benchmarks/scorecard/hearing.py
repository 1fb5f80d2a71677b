"""Attacks and verdicts beside aubio and librosa, on the same takes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import mir_eval
import numpy as np

from tests.bed.parts import KEEPS, Part, Spec, make, parts
from tests.bed.predictors import judged
from tests.bed.score import NEAREST_S, NEAREST_SHARE, Heard, Row, Scored, scored, timing
from tests.bed.take import Take
from tests.benchmarks.scorecard.peers import HEARERS, ONSETS
from tests.benchmarks.scorecard.processes import SHARED, busy
from tests.benchmarks.scorecard.rows import Figure

# What an ear without a score can be asked for: it knows nothing of splits and muffled notes.
TELLABLE = ("clean", "early", "late", "wrong", "missed")
FAULTS = (*TELLABLE[1:], "split", "muffled")
# Between takes on the common axis of all of them.
APART_S = 100.0
# In a quick run every so manieth of the takes with slurs or mistakes.
QUICK_EVERY = 3


@dataclass(frozen=True, slots=True)
class Attacks:
    """How well the attacks of some takes were heard by one method, its own bias taken out."""

    f10: float
    f25: float
    median_ms: float
    p95_ms: float
    count: int


def measured(quick: bool) -> dict[str, Figure]:
    """Figures for rows.HEARING."""
    every = {part.name: part for part in parts(str(SHARED), quick=quick)}
    tongued = made(every["articulation"].takes["tongued"])
    few = slice(None, None, QUICK_EVERY if quick else 1)
    slurs = every["articulation"].takes["slurred"] + every["articulation"].takes["mixed"]
    slurred = made(slurs[few])
    real = made([*_once(every["real-clear"]), *every["real-fast-clear"].takes["not trained on"]])
    figures = _attack_figures("tongued", tongued, KEEPS["all"])
    figures |= _attack_figures("recorded", real, _sharp)
    figures |= {
        key: figure
        for key, figure in _attack_figures("slurred", slurred, KEEPS["all"]).items()
        if "f25" in key
    }
    return figures | _verdict_figures(made(_tongued(every["faults"])[few]))


def made(specs: Sequence[Spec]) -> list[Take]:
    return [make(str(SHARED), spec) for spec in specs]


def _once(part: Part) -> list[Spec]:
    """Each recording that nothing was trained on, once."""
    return [spec for spec in part.takes["not trained on"] if not spec.settings["disturbance"]]


def _tongued(part: Part) -> list[Spec]:
    every = [spec for specs in part.takes.values() for spec in specs]
    return [spec for spec in every if spec.settings["articulation"] == "tongued"]


def _sharp(row: Row) -> bool:
    """Attacks of recordings whose truth is good."""
    return KEEPS["clear"](row) or KEEPS["staccato"](row)


def _attack_figures(
    kind: str, takes: Sequence[Take], keep: Callable[[Row], bool]
) -> dict[str, Figure]:
    ours = attacks_of(takes, judged, keep)
    figures = {}
    for peer, onsets in ONSETS.items():
        theirs = attacks_of(takes, onsets, keep)
        n = f"{ours.count:,} notes"
        figures |= {
            f"{kind} f10 {peer}": Figure(ours.f10, theirs.f10, n),
            f"{kind} f25 {peer}": Figure(ours.f25, theirs.f25, n),
            f"{kind} median {peer}": Figure(ours.median_ms, theirs.median_ms, n),
            f"{kind} p95 {peer}": Figure(ours.p95_ms, theirs.p95_ms, n),
        }
    return figures


def attacks_of(
    takes: Sequence[Take], hear: Callable[[Take], Heard], keep: Callable[[Row], bool]
) -> Attacks:
    """F by mir_eval over all takes together; errors of the notes that were heard."""
    heard = [scored(take, hear(take)) for take in takes]
    one = timing(heard, keep=keep)
    pairs = [_kept(take, keep, one.bias_ms / 1000) for take in heard]
    true, told = (_on_one_axis([pair[side] for pair in pairs]) for side in (0, 1))
    f10, f25 = (mir_eval.onset.f_measure(true, told, window=w)[0] for w in (0.010, 0.025))
    return Attacks(f10, f25, one.median_ms, one.p95_ms, one.count)


def _kept(
    take: Scored, keep: Callable[[Row], bool], bias_s: float
) -> tuple[list[float], list[float]]:
    """(True attacks, attacks heard).  Where not every note is kept only what was heard near those
    that are counts."""
    played = [row for row in take.rows if row.truth.attack_s is not None]
    kept = [row for row in played if row.truth.mark_kind != "unknown" and keep(row)]
    true = [row.truth.attack_s or 0.0 for row in kept]
    told = [at - bias_s for at in take.attacks]
    if len(kept) == len(played):
        return [*true, *take.extras], told
    return true, [at for at in told if any(_near(at, row) for row in kept)]


def _near(at_s: float, row: Row) -> bool:
    reach = min(NEAREST_S, NEAREST_SHARE * row.interval_s)
    return abs(at_s - (row.truth.attack_s or 0.0)) <= reach


def _on_one_axis(takes: Sequence[Sequence[float]]) -> np.ndarray:
    return np.sort(np.concatenate([APART_S * (k + 1) + np.array(t) for k, t in enumerate(takes)]))


def _verdict_figures(takes: Sequence[Take]) -> dict[str, Figure]:
    HEARERS["librosa", "pyin"](takes[0])  # what it compiles the first time is not counted
    ours, ours_s = busy(lambda: _verdicts(takes, judged))
    sound_s = sum(len(take.samples) / take.rate for take in takes)
    figures = {}
    for (peer, by), hear in HEARERS.items():
        theirs, theirs_s = busy(lambda hear=hear: _verdicts(takes, hear))
        for key, (mine, yours, n) in {
            "right": (ours.right, theirs.right, f"{ours.notes:,} notes"),
            "false": (ours.false, theirs.false, f"{ours.clean:,} notes"),
            "speed": (sound_s / ours_s, sound_s / theirs_s, f"{sound_s:.0f} s"),
        }.items():
            figures[f"{key} {peer} {by}"] = Figure(mine, yours, n)
    return figures


@dataclass(frozen=True, slots=True)
class Said:
    """`right`: share of the notes whose verdict is fair, unsure being none; `false`: share of the
    clean ones that are called a fault."""

    right: float
    false: float
    notes: int
    clean: int


def _verdicts(takes: Sequence[Take], hear: Callable[[Take], Heard]) -> Said:
    rows = list(_tellable(scored(take, hear(take)) for take in takes))
    clean = [row for row in rows if row.truth.kind == "clean"]
    right = sum(_fair(row) for row in rows) / len(rows)
    false = sum(row.verdict in FAULTS and not _fair(row) for row in clean) / len(clean)
    return Said(right, false, len(rows), len(clean))


def _tellable(takes: Iterator[Scored]) -> Iterator[Row]:
    return (row for take in takes for row in take.rows if row.truth.kind in TELLABLE)


def _fair(row: Row) -> bool:
    return row.verdict == row.truth.kind or row.verdict in row.truth.also
