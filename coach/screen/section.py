"""The screens of a section: while it plays the conductor's view, then how the players were
together."""

from __future__ import annotations

import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, TextIO

from rich.console import Console, RenderableType

from coach.core.gate import Gate
from coach.core.rules import Rules
from coach.core.tutti.ensemble import Ensemble
from coach.core.tutti.mixer import Mix
from coach.core.tutti.section import Section
from coach.core.tutti.words import section_sentences
from coach.screen.choice import shows_pictures
from coach.screen.live import LiveScreen
from coach.screen.plain import PlainScreen
from coach.screen.stage import StageScreen
from coach.screen.tutti import section_body
from coach.screen.words import next_words, percent, printable

if TYPE_CHECKING:
    from coach.core.report import Report
    from coach.core.timeline import Plan
    from coach.core.view import View

Found = Callable[["Report", "Plan"], Section]


def make_section_screen(
    ensemble: Ensemble,
    mix: Callable[[], Mix],
    found: Found,
    *,
    plain: bool = False,
    rules: Rules | None = None,
    hint: str = "",
    stream: TextIO | None = None,
) -> LiveScreen | PlainScreen:
    """As `make_screen`; `found` tells of the take that was played last."""
    out = stream or sys.stdout
    console = Console(file=out)
    if plain or not shows_pictures(console):
        return SectionPlain(out, found)
    return SectionScreen(console, ensemble, mix, found, rules=rules, hint=hint)


def accuracy_sentence(section: Section, gate: Gate) -> str:
    """Each player's share, and whether all pass."""
    shares = ", ".join(
        f"{printable(name)} {percent(share)}"
        for name, share in zip(section.players, section.accuracies, strict=True)
    )
    passed = all(gate.passed(share) for share in section.accuracies)
    return f"{shares}: {'all pass' if passed else 'not all pass'} ({percent(gate.threshold)})."


class _Last:
    """What was found of the last take, worked out once."""

    def __init__(self, found: Found) -> None:
        self._found = found
        self._of: Report | None = None
        self._section: Section | None = None

    def of(self, view: View) -> Section | None:
        if view.last is not self._of and view.last is not None and view.last_plan is not None:
            self._of = view.last
            self._section = self._found(view.last, view.last_plan)
        return self._section


class SectionPlain(PlainScreen):
    """Lines of text, with what is to be said of the section after each take."""

    def __init__(self, stream: TextIO, found: Found) -> None:
        super().__init__(stream)
        self._last = _Last(found)
        self._section: Section | None = None

    def draw(self, view: View) -> None:
        super().draw(view)
        section = self._last.of(view)
        if section is not None and section is not self._section:
            self._section = section
            for sentence in (*section_sentences(section), accuracy_sentence(section, view.gate)):
                self._say(sentence)


class SectionScreen(StageScreen):
    """Pictures: the conductor's view, and between takes who leads and who lags."""

    def __init__(
        self,
        console: Console,
        ensemble: Ensemble,
        mix: Callable[[], Mix],
        found: Found,
        *,
        rules: Rules | None = None,
        hint: str = "",
    ) -> None:
        super().__init__(console, ensemble, mix, rules=rules, hint=hint)
        self._last = _Last(found)

    def _between(self, view: View, width: int, height: int) -> RenderableType:
        section = self._last.of(view)
        if section is None:
            return super()._between(view, width, height)
        more = accuracy_sentence(section, view.gate)
        if view.path:
            more = f"{more} {next_words(view)}"
        return section_body(section, width, height, more)
