"""The picture while playing: few lines, large, cheap to draw (a few strings a line, no tables).

From top to bottom: title and place; tempo and gate; the notes of this click and of the next; the
last notes on rulers (in the count-in: the number); the take so far; the tempo path.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.text import Text

from coach.core.rules import Rules
from coach.core.take import Verdict
from coach.core.view import View
from coach.screen.font import big, big_note
from coach.screen.page import MARGIN, Block, ends, fit, line
from coach.screen.path import path_lines
from coach.screen.ruler import odd, ruler, scale_line
from coach.screen.score import ScoreLayout, score_of
from coach.screen.style import BOLD, DIM, MARKS, NOW
from coach.screen.words import (
    UNJUDGED,
    deviation_ms,
    heard_name,
    own_name,
    percent,
    printable,
    signed,
    speed_words,
    standing_of,
)

BIG_FROM_ROWS = 18
DOUBLE_FROM_ROWS = 34
SEEN = "◦"
MOST_RULERS = 8
WIDEST_RULER = 81


def playing_lines(
    view: View,
    width: int,
    height: int,
    *,
    rules: Rules,
    hint: str = "",
    score: ScoreLayout | None = None,
) -> list[Text]:
    """At most `height` lines of at most `width` cells for a view with a plan.

    `score` is the plan made ready (`score_of`), to be handed in while the plan stays the same.
    """
    if view.plan is None:
        return [line((printable(view.title), BOLD))]
    score = score or score_of(view.plan, rules)
    scale = _scale(score, width, height)
    blocks = [
        Block([_head(view, score, width)]),
        Block(_tempo_and_gate(view, score, width, large=height >= BIG_FROM_ROWS)),
        *_notes(view, score, width, scale),
        *_middle(view, score, width, height),
        Block([_overview(view, score, width)], rank=2),
        Block(path_lines(view.path, view.pace, width, next_too=view.speed is None), rank=3),
        Block(_foot(view, hint), rank=4),
    ]
    return fit(blocks, height)


def _head(view: View, score: ScoreLayout, width: int) -> Text:
    first = score.plan.exercise.passage.first_bar
    bar = score.bar_of[view.now] if view.now is not None and score.bar_of else first
    place = Text(f"take {view.take}   bar {bar} of {score.last_bar}", style=BOLD)
    # A line is short: which exercise it is matters more than of which drill.
    variant = own_name(view.title, score.plan.exercise.passage.title)
    return ends(line(variant or printable(view.title)), place, width - 1)


def _foot(view: View, hint: str) -> list[Text]:
    lost = ""
    if view.lost_frames and view.plan is not None:
        lost = f"sound lost: {view.lost_frames * 1000 / view.plan.rate:.0f} ms   "
    words = lost + printable(view.notice or hint)
    return [line(Text(words, style=DIM))] if words else []


# Tempo and gate


def _tempo_and_gate(view: View, score: ScoreLayout, width: int, *, large: bool) -> list[Text]:
    tempo = f"{score.plan.exercise.tempo_bpm:g}"
    gate = _gate_lines(view, score)
    digits = big(tempo)
    if not large or len(digits[0]) + 44 > width:
        return [line((f"tempo {tempo}   ", BOLD), gate[0]), line(gate[1])]
    return [line((row, BOLD), "     ", text) for row, text in zip(digits, gate, strict=True)]


def _gate_lines(view: View, score: ScoreLayout) -> tuple[Text, Text, Text]:
    gate, pace = view.gate, view.pace
    way = score.plan.exercise.passage.way
    if way in UNJUDGED:
        name, what = UNJUDGED[way]
        return Text(name, style=BOLD), Text(what), Text(f"goal {pace.to_bpm:g}")
    now = standing_of(view.verdicts, gate, len(score.names))
    needed = f"gate  {now.needed} of {now.notes} ({percent(gate.threshold)}){_slips(now.may_slip)}"
    passes = f"passes in a row {pace.passes_in_a_row} of {gate.passes}   goal {pace.to_bpm:g}"
    clean = Text(f"clean {now.clean} of {now.judged}" if now.judged else "", style=BOLD)
    if view.speed is not None:
        return clean, Text(f"played back at {speed_words(view.speed)}"), Text(needed)
    return clean, Text(needed), Text(passes)


def _slips(may_slip: int) -> str:
    if may_slip < 0:
        return ", not this time"
    return f", {may_slip} may slip" if may_slip else ", none may slip"


# Where I am, and what is next


def _scale(score: ScoreLayout, width: int, height: int) -> int:
    """How large the notes are drawn: 0 as text, 1 or 2 in block letters."""
    room = width - len(MARGIN)
    if height >= DOUBLE_FROM_ROWS and score.widest[2] <= room:
        return 2
    return 1 if height >= BIG_FROM_ROWS and score.widest[1] <= room else 0


def _notes(view: View, score: ScoreLayout, width: int, scale: int) -> list[Block]:
    if not score.groups:
        return []
    number = score.group_of[view.now] if view.now is not None else 0
    group = score.groups[number]
    following = score.groups[number + 1] if number + 1 < len(score.groups) else range(0)
    names = [score.names[k] for k in group]
    cells = [score.cells[scale][k] for k in group]
    rows = _big_rows(names, cells, scale) if scale else [_row(names, cells, BOLD)]
    under = _pointer_row(view.now, group, cells)
    return [
        Block([*rows, under, *_under_rows(score, group, cells)]),
        Block([_next_line(score, following, width)], rank=1, spaced=False),
    ]


def _big_rows(names: Sequence[str], cells: Sequence[int], scale: int) -> list[Text]:
    drawn = [big_note(name, scale) for name in names]
    return [_row([note[row] for note in drawn], cells, BOLD) for row in range(len(drawn[0]))]


def _row(words: Sequence[str], cells: Sequence[int], style: object) -> Text:
    filled = "".join(w.ljust(c) for w, c in zip(words, cells, strict=True))
    return line((filled.rstrip(), style))


def _pointer_row(now: int | None, group: range, cells: Sequence[int]) -> Text:
    marks = ["━" * (c - 2) if k == now else "" for k, c in zip(group, cells, strict=True)]
    return _row(marks, cells, NOW)


def _under_rows(score: ScoreLayout, group: range, cells: Sequence[int]) -> list[Text]:
    """Accents, syllables and fingerings, where there are any in the passage."""
    dues = score.plan.dues
    notes = score.plan.exercise.passage.notes
    rows = []
    if any(note.accent for note in notes):
        rows.append(_row([">" if notes[k].accent else "" for k in group], cells, BOLD))
    for field in ("syllable", "fingering"):
        if any(getattr(due, field) for due in dues):
            words = [getattr(dues[k], field) or "" for k in group]
            rows.append(_row(words, cells, DIM if field == "fingering" else BOLD))
    return rows


def _next_line(score: ScoreLayout, following: range, width: int) -> Text:
    if not following:
        return line(("then   the end", DIM))
    names = "  ".join(score.names[k] for k in following)
    text = line(("then   ", DIM), (names, BOLD))
    text.truncate(width, overflow="ellipsis")
    return text


# The last notes, or the count-in


def _middle(view: View, score: ScoreLayout, width: int, height: int) -> list[Block]:
    if view.phase == "count-in":
        return [Block(_count_in(view, score, height))]
    used = {0: 9, 1: 20, 2: 25}[_scale(score, width, height)]
    count = max(1, min(MOST_RULERS, height - used))
    return [
        Block([_ruler_head(width)], rank=5),
        Block(_rulers(view, score, width, count), spaced=False),
    ]


def _count_in(view: View, score: ScoreLayout, height: int) -> list[Text]:
    """The click of the bar, large: 1 2 3 4."""
    passage = score.plan.exercise.passage
    in_bar = int(passage.bar_beats / passage.pulse_beats) or 1
    number = str(view.pulse % in_bar + 1)
    if height < BIG_FROM_ROWS:
        return [line((f"count-in  {number}", NOW))]
    return [line("     ", (row, NOW)) for row in big(number, 2 if height >= 22 else 1)]


def _ruler_width(width: int) -> int:
    return odd(max(11, min(WIDEST_RULER, width - 30)))


def _ruler_head(width: int) -> Text:
    return line((" " * 18 + scale_line(_ruler_width(width)), DIM))


def _rulers(view: View, score: ScoreLayout, width: int, count: int) -> list[Text]:
    """The latest verdict first; empty lines keep the picture still."""
    latest = list(reversed(view.verdicts[-count:]))
    rows = [_ruler_row(v, score, width, newest=k == 0) for k, v in enumerate(latest)]
    return rows + [Text()] * (count - len(rows))


def _ruler_row(verdict: Verdict, score: ScoreLayout, width: int, *, newest: bool) -> Text:
    rate, mark = score.plan.rate, MARKS[verdict.kind]
    other = heard_name(verdict, score.spelling)
    figure = f"is {other}" if other else signed(deviation_ms(verdict, rate))
    weight = BOLD if newest else ""
    return line(
        (f"{verdict.index + 1:>3} {score.names[verdict.index]:<4} ", weight),
        (mark.shape, mark.style),
        (f" {verdict.kind:<8}", weight),
        ruler(verdict, rate, score.tolerances_ms[verdict.index], _ruler_width(width)),
        (f" {figure:>7}", weight),
    )


# The whole take


def _overview(view: View, score: ScoreLayout, width: int) -> Text:
    """One character a note: a full circle for clean, a letter for a fault, a small ring for a note
    that begins to show, a dot for what comes."""
    kinds = {v.index: v.kind for v in view.verdicts}
    room = width - 2 * len(MARGIN)
    spaced = len(score.names) + len(score.groups) <= room
    first = 0
    if len(score.names) > room:
        first = (view.now or 0) // room * room
    text = Text(MARGIN, no_wrap=True)
    for index in range(first, min(len(score.names), first + room)):
        if spaced and index and score.group_of[index] != score.group_of[index - 1]:
            text.append(" ")
        seen = index in view.glimpsed
        text.append_text(_overview_mark(kinds.get(index), index == view.now, seen=seen))
    return text


def _overview_mark(kind: str | None, is_now: bool, *, seen: bool = False) -> Text:
    if kind is None and seen:
        return Text(SEEN, style=BOLD)
    if kind is None:
        return Text("┃" if is_now else "·", style=NOW if is_now else DIM)
    mark = MARKS[kind]
    return Text(mark.shape if kind == "clean" else mark.letter, style=mark.style)
