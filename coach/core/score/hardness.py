"""How hard the notes of a line are, term by term.  The figures come from configs/hard.toml."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from coach.core.fingering.weights import Weights
from coach.core.instrument import Instrument
from coach.core.score.fingerwork import FingerWork, finger_work
from coach.core.score.line import Line, LineNote
from coach.core.score.paced import PacedNote, paced

TERMS = ("rate", "fingers", "leaps", "high", "low", "tongue")


@dataclass(frozen=True, slots=True)
class Hardness:
    """configs/hard.toml, which says what each figure means and why; `single_limit_hz` is that of
    configs/tonguing.toml."""

    free_hz: float = 4.0
    full_hz: float = 12.0
    rate: float = 1.0
    fingers: float = 0.2
    free_semitones: int = 4
    leaps: float = 0.06
    partial: float = 0.1
    high_share: float = 0.7
    high: float = 1.0
    low_share: float = 0.3
    low: float = 0.5
    near_share: float = 0.8
    tongue: float = 0.7
    least: float = 0.6
    most_bars: int = 4
    beside_share: float = 0.7
    run_share: float = 0.15
    single_limit_hz: float = 8.0


@dataclass(frozen=True, slots=True)
class HardNote:
    """A note, the one `before` it, the `work` of the fingers from there, and its terms."""

    paced: PacedNote
    before: LineNote | None
    work: FingerWork
    terms: dict[str, float]

    @property
    def leap(self) -> int:
        """Semitones from the note before."""
        return abs(self.paced.note.sounding - self.before.sounding) if self.before else 0

    @property
    def score(self) -> float:
        return sum(self.terms.values())


def hard_notes(
    line: Line, instrument: Instrument, weights: Weights, figures: Hardness
) -> tuple[HardNote, ...]:
    """The notes of the line with their terms; what stands above 0 only grows with the tempo.

    A move counts for the note it leads to.  Fingers count where notes follow each other at
    `free_hz` or faster.
    """
    notes = paced(line)
    works = finger_work(notes, instrument, weights, figures.free_hz)
    made: list[HardNote] = []
    for k, (each, work) in enumerate(zip(notes, works, strict=True)):
        before = notes[k - 1] if k else None
        priced = _Priced(each, before, work, instrument, weights, figures)
        made.append(HardNote(each, before.note if before else None, work, priced.terms()))
    return tuple(made)


def summed(notes: Sequence[HardNote]) -> dict[str, float]:
    """The terms of several notes together, all of `TERMS`."""
    total: Counter[str] = Counter()
    for note in notes:
        total.update(note.terms)
    return {name: total[name] for name in TERMS}


class _Priced:
    """One note and its terms."""

    def __init__(
        self,
        paced: PacedNote,
        before: PacedNote | None,
        work: FingerWork,
        instrument: Instrument,
        weights: Weights,
        figures: Hardness,
    ) -> None:
        self._note, self._rate_hz, self._figures = paced.note, paced.rate_hz, figures
        self._before, self._work = before, work
        fast = self._rate_hz >= figures.free_hz
        self._hurry = weights.hurry(paced.before_s) if fast else 0.0
        span = max(1, instrument.highest - instrument.lowest)
        # 0 at the bottom of the range, 1 at the top; beyond it as at its end.
        self._height = min(1.0, max(0.0, (paced.note.sounding - instrument.lowest) / span))

    def terms(self) -> dict[str, float]:
        return {
            "rate": self._rate(),
            "fingers": self._figures.fingers * self._work.cost,
            "leaps": self._leap(),
            "high": self._high(),
            "low": self._low(),
            "tongue": self._tongue(),
        }

    def _rate(self) -> float:
        figures = self._figures
        over = (self._rate_hz - figures.free_hz) / (figures.full_hz - figures.free_hz)
        return figures.rate * max(0.0, over) ** 2

    def _leap(self) -> float:
        figures = self._figures
        before = self._before.note.sounding if self._before else self._note.sounding
        semitones = abs(self._note.sounding - before)
        beyond = figures.leaps * max(0, semitones - figures.free_semitones)
        return self._hurry * (beyond + figures.partial * max(0, self._work.partials - 1))

    def _high(self) -> float:
        share = self._figures.high_share
        return self._figures.high * max(0.0, (self._height - share) / (1 - share)) ** 2

    def _low(self) -> float:
        share = self._figures.low_share
        return self._figures.low * self._hurry * max(0.0, (share - self._height) / share)

    def _tongue(self) -> float:
        """Of two quick notes by themselves no tongue gets tired: from the third on."""
        if self._note.slurred or self._before is None or self._before.note.slurred:
            return 0.0
        rate_hz = min(self._rate_hz, self._before.rate_hz)
        over = rate_hz / self._figures.single_limit_hz - self._figures.near_share
        return self._figures.tongue * max(0.0, over)
