"""The parts of the hearing benchmark: which takes, and which of their notes count.

A `Spec` is small and can be sent to another process, which makes the take from it.  The takes come
from the test split (real ones from both, apart) and from fixed seeds.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np

from tests.bed.augment import augmented
from tests.bed.real import is_clear, real_takes
from tests.bed.render import ARTICULATIONS, make_take
from tests.bed.score import Row
from tests.bed.sources import SourceNote, load_notes
from tests.bed.synthetic import synthetic_take
from tests.bed.take import Take

RATES = (4, 6, 8, 10, 12, 14)
MAKERS = ("spliced", "synthetic", "real", "hurried")
REAL_SEEDS = 4
VARIANTS = 6


@dataclass(frozen=True, slots=True)
class Spec:
    """One take: `maker` "spliced", "synthetic", "real" or "hurried" (real, augmented)."""

    maker: str
    seed: int
    settings: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Part:
    """One table; `takes` by row name, `keep` the notes that count (a key of `KEEPS`), `shows` what
    it has beside attack times: "verdicts", "recall" (by kind), "lags"."""

    name: str
    title: str
    takes: dict[str, list[Spec]]
    keep: str = "all"
    shows: tuple[str, ...] = ()


KEEPS: dict[str, Callable[[Row], bool]] = {
    "all": lambda row: True,
    "click": lambda row: row.on_click,
    "clear": lambda row: is_clear(row.truth),
    "attack": lambda row: row.truth.mark_kind == "attack",
    "join": lambda row: row.truth.mark_kind == "join",
    "slur": lambda row: row.truth.mark_kind == "slur",
    "staccato": lambda row: row.truth.mark_kind == "staccato",
}


def make(shared: str, spec: Spec) -> Take:
    """The take of a `Spec`, the same each time."""
    rng = np.random.default_rng((MAKERS.index(spec.maker), spec.seed))
    if spec.maker == "spliced":
        return make_take(rng, _notes(shared), **spec.settings)
    if spec.maker == "synthetic":
        return synthetic_take(rng, **spec.settings)
    takes = _real(shared, spec.settings["split"], spec.settings["disturbance"])
    take = takes[spec.settings["place"]]
    return take if spec.maker == "real" else augmented(rng, take)


@lru_cache(maxsize=1)
def _notes(shared: str) -> list[SourceNote]:
    return load_notes(shared, "test")


@lru_cache(maxsize=16)
def _real(shared: str, split: str, disturbance: int) -> list[Take]:
    return real_takes(shared, split, seed=disturbance)


def parts(shared: str, *, quick: bool = False) -> list[Part]:
    """All tables; `quick`: about a fifth of the takes."""
    few = 1 if quick else 4
    real = _recorded(shared, 1 if quick else REAL_SEEDS)
    made = [
        Part(
            "sloppy",
            "sloppy perfect takes, small room",
            _by_rate(few, "typ"),
            shows=("verdicts",),
        ),
        Part(
            "articulation",
            "sloppy perfect takes, small room, by articulation",
            _by_articulation(few, "typ"),
        ),
        Part(
            "hard",
            "sloppy perfect takes, hard room",
            _by_articulation(few, "hard"),
            shows=("verdicts",),
        ),
        Part("tight", "tight perfect takes, small room", _tight(few), shows=("verdicts",)),
        Part(
            "faults",
            "takes with mistakes, small room",
            _faults(few, "typ"),
            shows=("verdicts", "recall"),
        ),
        Part(
            "faults-hard",
            "takes with mistakes, hard room",
            _faults(few, "hard"),
            shows=("verdicts", "recall"),
        ),
        Part("lags", "tongue-to-valve lags", _lags(few), shows=("lags",)),
    ]
    for keep, title in (
        ("staccato", "real tongued takes"),
        ("clear", "real phrases, clear attacks"),
        ("join", "real phrases, legato joins (10 ms truth)"),
        ("slur", "real phrases, slurs (15 ms truth)"),
    ):
        shows = ("verdicts",) if keep == "staccato" else ()
        made.append(Part(f"real-{keep}", title, real, keep, shows))
    fast = {"not trained on": _hurried(shared, 1 if quick else VARIANTS)}
    made += [
        Part("real-fast", "real playing sped up, tongued takes", fast, "staccato"),
        Part("real-fast-clear", "real playing sped up, clear attacks of phrases", fast, "clear"),
        Part(
            "click", "notes on an audible click, small room", _clicks(few), "click", ("verdicts",)
        ),
        Part("others", "other instruments, sloppy, small room", _others(few)),
        Part("synthetic", "the simulated player, sloppy, small room", _synthetic(few)),
    ]
    return made


def _spliced(seeds: range, **settings: Any) -> list[Spec]:
    return [Spec("spliced", seed, settings) for seed in seeds]


def _by_rate(few: int, room: str) -> dict[str, list[Spec]]:
    return {
        f"{rate} a second": [
            spec
            for k, how in enumerate(ARTICULATIONS)
            for spec in _spliced(
                range(100 * rate + 10 * k, 100 * rate + 10 * k + few),
                notes_per_s=rate, articulation=how, sloppy=True, room=room,
            )
        ]
        for rate in RATES
    }  # fmt: skip


def _by_articulation(few: int, room: str) -> dict[str, list[Spec]]:
    by_rate = _by_rate(few, room)
    every = [spec for specs in by_rate.values() for spec in specs]
    return {
        how: [spec for spec in every if spec.settings["articulation"] == how]
        for how in ARTICULATIONS
    }


def _tight(few: int) -> dict[str, list[Spec]]:
    return {
        "all rates": [
            spec
            for rate in RATES
            for spec in _spliced(
                range(2000 + 10 * rate, 2000 + 10 * rate + 2 * few),
                notes_per_s=rate, articulation="mixed", room="typ",
            )
        ]
    }  # fmt: skip


def _faults(few: int, room: str) -> dict[str, list[Spec]]:
    return {
        f"{rate} a second": [
            spec
            for k, how in enumerate(ARTICULATIONS)
            for spec in _spliced(
                range(3000 + 100 * rate + 20 * k, 3000 + 100 * rate + 20 * k + 2 * few),
                notes_per_s=rate, articulation=how, faults=True, room=room,
            )
        ]
        for rate in (4, 6, 8, 10, 12)
    }  # fmt: skip


def _lags(few: int) -> dict[str, list[Spec]]:
    return {
        f"{rate} a second": _spliced(
            range(5000 + 20 * rate, 5000 + 20 * rate + 3 * few),
            notes_per_s=rate, articulation="tongued", lags=True, room="typ",
        )
        for rate in (4, 6, 8)
    }  # fmt: skip


def _clicks(few: int) -> dict[str, list[Spec]]:
    """A tight player's attacks fall on the click, where it hides them most; but there the null does
    well, so a careless one stands beside."""
    return {
        f"{'sloppy ' if sloppy else ''}{db:+d} dB": [
            Spec(
                "spliced",
                6000 + k,
                {
                    "notes_per_s": (4, 6, 8)[k % 3],
                    "articulation": ARTICULATIONS[k % 2 * 2],
                    "sloppy": sloppy,
                    "room": "typ",
                    "click_db": float(db),
                },
            )
            for k in range(3 * few)
        ]
        for db, sloppy in ((-20, False), (-10, False), (0, False), (-10, True), (0, True))
    }


def _others(few: int) -> dict[str, list[Spec]]:
    return {
        name: [
            spec
            for rate in (4, 8, 12)
            for spec in _spliced(
                range(7000 + 20 * rate, 7000 + 20 * rate + 2 * few),
                instrument=name, notes_per_s=rate, articulation="mixed", sloppy=True, room="typ",
            )
        ]
        for name in ("trombone", "trumpet", "tuba")
    }  # fmt: skip


def _synthetic(few: int) -> dict[str, list[Spec]]:
    return {
        how: [
            Spec(
                "synthetic",
                8000 + 20 * rate + k,
                {"notes_per_s": rate, "articulation": how, "sloppy": True, "room": "typ"},
            )
            for rate in (4, 8, 12)
            for k in range(few)
        ]
        for how in ARTICULATIONS
    }


def _recorded(shared: str, seeds: int) -> dict[str, list[Spec]]:
    """By split: those not trained on are few, so the others stand beside them."""
    return {
        row: [
            Spec("real", 0, {"split": split, "place": place, "disturbance": seed})
            for seed in range(seeds)
            for place in range(len(_real(shared, split, 0)))
        ]
        for row, split in (("not trained on", "test"), ("trained on", "train"))
    }


def _hurried(shared: str, variants: int) -> list[Spec]:
    return [
        Spec("hurried", 50 * place + k, {"split": "test", "place": place, "disturbance": 0})
        for place in range(len(_real(shared, "test", 0)))
        for k in range(variants)
    ]
