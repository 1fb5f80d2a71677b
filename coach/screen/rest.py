"""The picture between takes: one sentence, how the take stood, the tempo path, then the table."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.text import Text

from coach.core.rules import Rules
from coach.core.view import View
from coach.screen.page import MARGIN, Block, Lines, ends, fit, line
from coach.screen.path import path_lines
from coach.screen.style import BOLD, DIM
from coach.screen.table import note_table
from coach.screen.words import outcome_line, own_name, printable, spelling_of

SMALLEST_TABLE = 5


def rest_body(view: View, width: int, height: int, *, rules: Rules) -> RenderableType:
    """Everything but the foot; it stays the same through a rest, so it can be kept."""
    above = fit(_above(view, width), height if view.last is None else height // 2)
    if view.last is None or view.last_plan is None:
        return Lines(tuple(above))
    rows = height - len(above) - 1
    if rows < SMALLEST_TABLE:
        return Lines(tuple(above))
    spelling = spelling_of(view.last_plan.exercise)
    table = note_table(view.last, spelling, width - len(MARGIN), rows, rules)
    return Group(Lines((*above, Text())), table)


def rest_foot(view: View, width: int, hint: str) -> Lines:
    """What is going to happen, what to mind (a caution is never cut short), and the keys."""
    rows = _wrapped(_coming(view), width)
    rows += _wrapped(printable(view.notice), width, style="")
    return Lines((*rows, line((hint, DIM))))


def _coming(view: View) -> str:
    if view.phase == "paused":
        return "paused"
    if view.last is None and not view.rest_s:
        return "ready"
    named = own_name(view.title, view.next_up)
    return f"next take in {view.rest_s:.0f} s{f': {named}' if named else ''}"


def _above(view: View, width: int) -> list[Block]:
    place = Text(f"take {len(view.path)}" if view.path else "", style=BOLD)
    outcome = outcome_line(view)
    return [
        Block([ends(line(printable(view.title)), place, width - 1)], rank=2),
        Block(_wrapped(view.advice, width)),
        Block(_wrapped(outcome, width, style="") if outcome else [], rank=1),
        Block(path_lines(view.path, view.pace, width, next_too=bool(view.path)), rank=3),
    ]


def _wrapped(sentence: str, width: int, style: object = BOLD) -> list[Text]:
    """A sentence in as many lines as it needs."""
    words, rows = sentence.split(), [""]
    for word in words:
        longer = f"{rows[-1]} {word}".strip()
        if len(longer) > width - 2 * len(MARGIN) and rows[-1]:
            rows.append(word)
        else:
            rows[-1] = longer
    return [line((row, style)) for row in rows if row]
