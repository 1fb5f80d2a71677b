"""The hard places of a part: which bars to practise first, and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any

from coach.core.fingering.weights import Weights
from coach.core.instrument import Instrument
from coach.core.score.hardbars import HardBar, Span, hard_bars, spans
from coach.core.score.hardness import Hardness, HardNote, hard_notes, summed
from coach.core.score.line import Line

# A term that makes up less than this share of the score is no reason worth telling.
TOLD_SHARE = 0.1


@dataclass(frozen=True, slots=True)
class HardPlace:
    """Printed bars `first` to `last`, as --bars takes them, and `also` where the same music stands.

    `score` is that of the hardest bar, `terms` of all bars together; `rate_hz` is the middle one of
    its fast notes (0 where none is); `why` tells the reasons in words, the heaviest after the rate.
    """

    first: str
    last: str
    also: tuple[str, ...]
    score: float
    terms: dict[str, float]
    notes: int
    rate_hz: float
    exchanges: int
    why: tuple[str, ...]

    @property
    def bars(self) -> str:
        """As --bars takes it: "41" or "41-44"."""
        return _named(self.first, self.last)

    def to_dict(self) -> dict[str, Any]:
        return {
            "first_bar": self.first,
            "last_bar": self.last,
            "bars": self.bars,
            "also": list(self.also),
            "score": round(self.score, 3),
            "terms": {name: round(cost, 3) for name, cost in self.terms.items()},
            "notes": self.notes,
            "notes_a_second": round(self.rate_hz, 2),
            "exchanges": self.exchanges,
            "why": list(self.why),
        }


def hard_places(
    line: Line, instrument: Instrument, weights: Weights, figures: Hardness, most: int = 5
) -> tuple[HardPlace, ...]:
    """The hardest places of a line at its marked tempi, the hardest first; a place with a
    score under `figures.least` is hard for nobody.

    Places are up to `figures.most_bars` neighbouring printed bars and share no bar.  A faster tempo
    makes no bar easier: see `hard_notes`.
    """
    bars = hard_bars(line, hard_notes(line, instrument, weights, figures), figures)
    return tuple(_place(bars, span, instrument, figures) for span in spans(bars, figures, most))


def _place(
    bars: Sequence[HardBar], span: Span, instrument: Instrument, figures: Hardness
) -> HardPlace:
    inside = bars[span.first : span.last + 1]
    told = _Told([note for bar in inside for note in bar.notes], instrument, figures)
    return HardPlace(
        inside[0].number,
        inside[-1].number,
        tuple(_named(bars[start].number, bars[end].number) for start, end in span.also),
        max(bar.score for bar in inside),
        told.terms,
        len(told.notes),
        told.rate_hz,
        told.exchanges,
        told.why(),
    )


def _named(first: str, last: str) -> str:
    return first if first == last else f"{first}-{last}"


class _Told:
    """What the notes of a place have in them, and its reasons in words."""

    def __init__(
        self, notes: Sequence[HardNote], instrument: Instrument, figures: Hardness
    ) -> None:
        self.notes, self._slide, self._figures = notes, instrument.slide, figures
        self.terms = summed(notes)
        self._fast = [note for note in notes if note.paced.rate_hz >= figures.free_hz]
        rates = [note.paced.rate_hz for note in self._fast]
        self.rate_hz = median(rates) if rates else 0.0
        self.exchanges = sum(note.work.exchange for note in notes)

    def why(self) -> tuple[str, ...]:
        """The rate, then what weighs most."""
        least = TOLD_SHARE * sum(self.terms.values())
        heavy = [name for name, cost in self.terms.items() if cost >= least and cost > 0]
        words = {
            "fingers": self._fingers,
            "leaps": self._leaps,
            "high": lambda: f"up to {self._by_height()[-1].paced.note.written.name}",
            "low": lambda: f"down to {self._by_height()[0].paced.note.written.name}",
            "tongue": self._tongue,
        }
        reasons = sorted(set(heavy) & set(words), key=lambda name: (-self.terms[name], name))
        rate = [f"{self.rate_hz:.1f} notes a second"] if self._fast else []
        return (*rate, *(words[name]() for name in reasons))

    def _by_height(self) -> list[HardNote]:
        return sorted(self.notes, key=lambda note: note.paced.note.sounding)

    def _fingers(self) -> str:
        if self._slide:
            return "long ways of the slide"
        if not self.exchanges:
            return "busy fingers"
        return f"{self.exchanges} exchange{'s' if self.exchanges > 1 else ''} of fingers"

    def _leaps(self) -> str:
        wide = [note for note in self._fast if note.terms["leaps"] > 0]
        widest = max(wide, key=lambda note: note.leap)
        before, after = widest.before, widest.paced.note
        names = f"{before.written.name}-{after.written.name}" if before else after.written.name
        return f"{len(wide)} leaps, the widest {names}" if len(wide) > 1 else f"a leap {names}"

    def _tongue(self) -> str:
        rate_hz = max(note.paced.rate_hz for note in self._fast if note.terms["tongue"] > 0)
        over = rate_hz > self._figures.single_limit_hz
        return "too fast to single-tongue" if over else "tongued"
