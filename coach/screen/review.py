"""The week in review, on one screen."""

from __future__ import annotations

from collections.abc import Sequence

from rich.box import SIMPLE_HEAD
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.style import StyleType
from rich.table import Table
from rich.text import Text

from coach.core.progress.climb import MOVED_PERCENT
from coach.core.progress.week import NOTHING, week_words
from coach.core.review import PassageReview, Review
from coach.screen.ceilings import ceilings_lines
from coach.screen.style import BOLD, DIM, GOOD
from coach.screen.words import printable

# Where the figures of both weeks begin.
BESIDE = 18
# Where in the advice begins what is to be typed.
COMMAND = ": coach "


def review_page(review: Review, weak: Sequence[str], advice: str) -> RenderableType:
    """`weak`: what goes worse than the rest, the worst first; `advice`: one sentence."""
    if not review.passages:
        return Text(f"  {NOTHING}")
    parts: list[RenderableType] = [
        *_advice_lines(advice),
        Text(),
        _set_in(f"{'this week:':<{BESIDE}}{week_words(review.week)}"),
        _set_in(f"{'the week before:':<{BESIDE}}{week_words(review.before)}", DIM),
        Text(),
        _table(review),
        *ceilings_lines(review.ceilings),
    ]
    if weak:
        parts += [Text(), Text("  surely weaker than the rest:", style=BOLD)]
        parts += [_set_in(f"- {printable(words)}") for words in weak]
    return Group(*parts)


def _set_in(words: str, style: StyleType = "", by: int = 2) -> RenderableType:
    """All rows of it, not the first alone."""
    return Padding(Text(words, style=style), (0, 0, 0, by), expand=False)


def _advice_lines(advice: str) -> list[RenderableType]:
    """What to type for it stands by itself, in one row."""
    sentence, colon, command = printable(advice).partition(COMMAND)
    if not colon:
        return [_set_in(sentence, BOLD)]
    typed = Text(f"    {COMMAND.lstrip(': ')}{command}", style=BOLD, no_wrap=True)
    typed.overflow = "ignore"
    return [_set_in(f"{sentence}:", BOLD), typed]


def _table(review: Review) -> Table:
    table = Table(box=SIMPLE_HEAD, padding=(0, 1, 0, 0), pad_edge=False, show_edge=False)
    table.add_column("  passage")
    for heading in ("ceiling", "a week ago", "goal", "played"):
        table.add_column(heading, justify="right", no_wrap=True)
    for one in review.passages:
        table.add_row(
            Text(f"  {printable(one.title)}"),
            Text(f"{one.ceiling_bpm:.0f} ({one.low_bpm:.0f}-{one.high_bpm:.0f})"),
            _before(one),
            Text(_goal(one)),
            Text(_ago(review.today - one.last_day), style=DIM),
        )
    return table


def _before(one: PassageReview) -> Text:
    gained = one.gained_percent
    if one.before_bpm is None or gained is None:
        return Text("new", style=DIM)
    better = gained >= MOVED_PERCENT
    sign = "▲" if better else "▼" if gained <= -MOVED_PERCENT else "="
    return Text(f"{one.before_bpm:.0f} {sign}", style=GOOD if better else "")


def _goal(one: PassageReview) -> str:
    if one.goal_bpm is None:
        return ""
    return f"{one.goal_bpm:.0f}{' ●' if one.ceiling_bpm >= one.goal_bpm else ''}"


def _ago(days: int) -> str:
    return {0: "today", 1: "yesterday"}.get(days, f"{days} days ago")
