"""Syllables, registers and strokes: estimates beside each other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from coach.core.profile.profile import Profile
from coach.core.progress.sorts import (
    Compared,
    SortRow,
    limits_of,
    limits_words,
    registers_of,
    registers_words,
    syllables_of,
    syllables_words,
)
from coach.page.figure import figure, table
from coach.page.intervals import Panel, panels_drawn, panels_height
from coach.page.markup import Markup, joined
from coach.page.plot import WIDTH, circle, line, picture
from coach.page.scale import tick_words

SYLLABLES = "Are front and back of the tongue alike?"
REGISTERS = "Is one register worse than the others?"
LIMITS = "How quick can the tongue go?"
CLEAN = "clean notes, %"


def syllables_figure(profile: Profile, key: str) -> Markup:
    seen = syllables_of(profile)
    level = Panel("level against the middle of the take, dB", seen.values, _signed, (-2.0, 2.0))
    return _figure(SYLLABLES, syllables_words(profile), [level, _clean(seen)], key)


def registers_figure(profile: Profile, key: str) -> Markup:
    seen = registers_of(profile)
    late = Panel("after its place in the bar, ms (− before)", seen.values, _whole, (-10.0, 10.0))
    return _figure(REGISTERS, registers_words(seen), [late, _clean(seen)], key)


def limits_figure(profile: Profile, key: str) -> Markup:
    rows = limits_of(profile)
    panel = Panel("notes a second, nine in ten of them clean", rows, lambda hz: f"{hz:.1f}")
    return _figure(LIMITS, limits_words(rows), [panel], key)


def _clean(seen: Compared) -> Panel:
    rows = [_percent(row) for row in seen.clean]
    return Panel(CLEAN, rows, lambda share: f"{share:.0f} %", (80.0, 100.0))


def _percent(row: SortRow) -> SortRow:
    one = row.estimate
    scaled = replace(one, value=100 * one.value, low=100 * one.low, high=100 * one.high)
    return replace(row, estimate=scaled)


def _signed(value: float) -> str:
    return ("+" if value > 0 else "") + tick_words(round(value, 1))


def _whole(value: float) -> str:
    return _signed(round(value))


def _figure(question: str, answer: str, panels: Sequence[Panel], key: str) -> Markup:
    if not panels[0].rows:
        return figure(question, answer)
    size = (WIDTH, panels_height(panels))
    drawn = picture(key, question, answer, size, panels_drawn(panels))
    legend = [
        (
            joined(line(1, 10, 33, 10, "main"), circle(17, 10, 6, "mainfill")),
            "with a chance of 90 % it lies here",
        ),
        (
            joined(line(1, 10, 33, 10, "faint"), circle(17, 10, 6, "unsure")),
            "too few notes: mostly what was assumed",
        ),
    ]
    unsure = any(not row.tells for panel in panels for row in panel.rows)
    rows = [
        (
            f"{row.name}: {panel.title}",
            panel.words(row.estimate.value),
            f"{panel.words(row.estimate.low)} to {panel.words(row.estimate.high)}",
            f"{row.estimate.count:.0f}",
        )
        for panel in panels
        for row in panel.rows
    ]
    heads = ("what", "value", "90 % sure", "notes")
    figures = table("In figures", heads, rows, "Notes of earlier days count in part")
    return figure(question, answer, drawn, legend=legend[: 1 + unsure], table=figures)
