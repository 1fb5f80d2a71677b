"""The screen of a session in a terminal."""

from __future__ import annotations

from typing import Self

from rich.console import Console, Group, RenderableType
from rich.segment import Segments
from rich.text import Text

from coach.core.rules import Rules
from coach.core.view import View
from coach.screen.page import Lines
from coach.screen.rest import rest_body, rest_foot
from coach.screen.score import ScoreLayout, score_of
from coach.screen.strip import playing_lines
from coach.screen.whole import WholeTerminal


class LiveScreen(WholeTerminal):
    """Draws views over the whole terminal.

    What does not change from one picture to the next is kept: the score through a take, the table
    through a rest.  A picture like the one before is not drawn again.
    """

    def __init__(self, console: Console, *, rules: Rules | None = None, hint: str = "") -> None:
        super().__init__(console)
        self._rules = rules or Rules()
        self._hint = hint
        self._score: ScoreLayout | None = None
        self._body: tuple[View, int, int, RenderableType] | None = None
        self._shown: tuple[int, int, list[Text]] | None = None

    def __enter__(self) -> Self:
        self._shown = None
        return super().__enter__()

    def draw(self, view: View) -> None:
        width, height = self._console.size
        if view.phase in ("count-in", "playing") and view.plan is not None:
            self._draw_playing(view, width, height)
        else:
            self._draw_rest(view, width, height)

    def _draw_playing(self, view: View, width: int, height: int) -> None:
        assert view.plan is not None
        if self._score is None or self._score.plan is not view.plan:
            self._score = score_of(view.plan, self._rules)
        lines = self._playing(view, self._score, width, height)
        picture = (width, height, lines)
        if picture != self._shown:
            self._shown = picture
            self._update(Lines(tuple(lines)))

    def _playing(self, view: View, score: ScoreLayout, width: int, height: int) -> list[Text]:
        """The lines of the picture while the notes of `score` are played."""
        return playing_lines(view, width, height, rules=self._rules, hint=self._hint, score=score)

    def _draw_rest(self, view: View, width: int, height: int) -> None:
        self._shown = None
        foot = rest_foot(view, width, self._hint)
        body = self._between(view, width, max(1, height - len(foot.lines)))
        self._update(Group(body, foot))

    def _between(self, view: View, width: int, height: int) -> RenderableType:
        """The picture between takes, above the foot."""
        return self._kept_body(view, width, height)

    def _kept_body(self, view: View, width: int, height: int) -> RenderableType:
        """The upper part as ready segments, made anew when its contents or its size changed."""
        kept = self._body
        if kept and kept[1:3] == (width, height) and _same_body(kept[0], view):
            return kept[3]
        made = rest_body(view, width, height, rules=self._rules)
        options = self._console.options.update(width=width, height=None)
        rows = self._console.render_lines(made, options, pad=False, new_lines=True)[:height]
        ready = Segments([segment for row in rows for segment in row])
        self._body = (view, width, height, ready)
        return ready


def _same_body(a: View, b: View) -> bool:
    return a.last is b.last and (a.title, a.advice, a.pace, a.path) == (
        b.title,
        b.advice,
        b.pace,
        b.path,
    )
