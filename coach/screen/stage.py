"""The screens of playing inside the ensemble: the conductor's view, and how the take fitted in."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, TextIO

from rich.console import Console, RenderableType
from rich.text import Text

from coach.core.rules import Rules
from coach.core.tutti.ensemble import Ensemble
from coach.core.tutti.fit import EnsembleFit, fit_of
from coach.core.tutti.mixer import Mix
from coach.core.tutti.stand import stand_at
from coach.core.tutti.words import fit_sentences
from coach.screen.choice import shows_pictures
from coach.screen.live import LiveScreen
from coach.screen.plain import PlainScreen
from coach.screen.score import ScoreLayout, score_of
from coach.screen.tutti import MixLine, conductor_lines, fit_body
from coach.screen.words import outcome_line

if TYPE_CHECKING:
    from coach.core.report import Report
    from coach.core.timeline import Plan
    from coach.core.view import View


Releases = Callable[[], Mapping[int, int] | None]


def no_releases() -> None:
    """Nobody listened to them."""


def make_stage_screen(
    ensemble: Ensemble,
    mix: Callable[[], Mix],
    *,
    plain: bool = False,
    rules: Rules | None = None,
    hint: str = "",
    notice: Callable[[], str] = str,
    releases: Releases = no_releases,
    voices: Ensemble | None = None,
    stream: TextIO | None = None,
) -> LiveScreen | PlainScreen:
    """As `make_screen`, for one excerpt and its mix; `notice` gives what is to be said of its keys,
    or nothing; `releases` where the notes of the last take stopped (see `fit_of`);
    `voices` what the mix is of, where that is not the ensemble itself."""
    out = stream or sys.stdout
    console = Console(file=out)
    if plain or not shows_pictures(console):
        return StagePlain(out, ensemble, notice, releases)
    return StageScreen(
        console,
        ensemble,
        mix,
        rules=rules,
        hint=hint,
        notice=notice,
        releases=releases,
        voices=voices,
    )


def mix_lines(ensemble: Ensemble, mix: Mix) -> tuple[MixLine, ...]:
    """The voices as the mixer shows them."""
    return tuple(
        MixLine(
            voice.name,
            mix.levels_db[number],
            number in mix.muted,
            number in mix.solo,
            number == mix.chosen,
            mix.pan(number),
        )
        for number, voice in enumerate(ensemble.voices)
    )


class _Fits:
    """How the last take fitted in, worked out once."""

    def __init__(self, ensemble: Ensemble, releases: Releases) -> None:
        self._ensemble, self._releases = ensemble, releases
        self._of: Report | None = None
        self._fit: EnsembleFit | None = None

    def of(self, view: View) -> EnsembleFit | None:
        if view.last is not self._of:
            self._of = view.last
            self._fit = self._fitted(view.last, view.last_plan)
        return self._fit

    def _fitted(self, report: Report | None, plan: Plan | None) -> EnsembleFit | None:
        if report is None or plan is None:
            return None
        return fit_of(report, plan, self._ensemble, releases=self._releases())


class StagePlain(PlainScreen):
    """Lines of text, with what is to be said of the fit after each take."""

    def __init__(
        self,
        stream: TextIO,
        ensemble: Ensemble,
        notice: Callable[[], str] = str,
        releases: Releases = no_releases,
    ) -> None:
        super().__init__(stream)
        self._fits = _Fits(ensemble, releases)
        self._said: EnsembleFit | None = None
        self._of_keys, self._said_of_keys = notice, ""

    def draw(self, view: View) -> None:
        super().draw(view)
        notice = self._of_keys()
        if notice and notice != self._said_of_keys:
            self._said_of_keys = notice
            self._say(notice)
        found = self._fits.of(view)
        if found is not None and found is not self._said:
            self._said = found
            for sentence in fit_sentences(found):
                self._say(sentence)


class StageScreen(LiveScreen):
    """Pictures: the conductor's view while the ensemble plays, the fit between takes."""

    def __init__(
        self,
        console: Console,
        ensemble: Ensemble,
        mix: Callable[[], Mix],
        *,
        rules: Rules | None = None,
        hint: str = "",
        notice: Callable[[], str] = str,
        releases: Releases = no_releases,
        voices: Ensemble | None = None,
    ) -> None:
        super().__init__(console, rules=rules, hint=hint)
        self._voices, self._mix, self._notice = voices or ensemble, mix, notice
        self._fits = _Fits(ensemble, releases)

    def _playing(self, view: View, score: ScoreLayout, width: int, height: int) -> list[Text]:
        return conductor_lines(
            stand_at(score.plan, view.frame),
            score,
            mix_lines(self._voices, self._mix()),
            width,
            height,
            title=view.title,
            hint=self._hint,
            notice=self._notice(),
        )

    def _draw_rest(self, view: View, width: int, height: int) -> None:
        view = replace(view, notice=f"{self._notice()} {view.notice}".strip())
        super()._draw_rest(view, width, height)

    def _between(self, view: View, width: int, height: int) -> RenderableType:
        found = self._fits.of(view)
        if found is None or view.last_plan is None:
            return super()._between(view, width, height)
        score = score_of(view.last_plan, self._rules)
        return fit_body(found, score, width, height, outcome_line(view))
