"""The ensemble on the screen: the conductor's view while it plays, and what came of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

from rich.console import Group, RenderableType
from rich.style import Style
from rich.text import Text

from coach.core.tutti.fit import EnsembleFit
from coach.core.tutti.section import Section
from coach.core.tutti.stand import Stand
from coach.core.tutti.words import fit_sentences, section_sentences
from coach.screen.font import big
from coach.screen.page import MARGIN, Block, Lines, ends, fit, line
from coach.screen.score import ScoreLayout
from coach.screen.style import BOLD, DIM, NOW
from coach.screen.tuttitables import fit_table, section_table
from coach.screen.words import printable

# How large bar and beat are drawn, and from how many rows of the window on.
SCALES = ((4, 48), (3, 34), (2, 18), (1, 12))
BETWEEN = "   "
NAME_CELLS = 14
# Underlined as well: it is to be seen without colour.
SOUNDING = NOW + Style(underline=True)


@dataclass(frozen=True, slots=True)
class MixLine:
    """One voice of the mixer: its level in dB (0: as written); `chosen` is the one the keys
    change; `pan` from -1, left, to +1, right."""

    name: str
    level_db: float = 0.0
    muted: bool = False
    solo: bool = False
    chosen: bool = False
    pan: float = 0.0


# While it plays


def conductor_lines(
    stand: Stand,
    score: ScoreLayout,
    mix: Sequence[MixLine],
    width: int,
    height: int,
    *,
    title: str = "",
    hint: str = "",
    notice: str = "",
) -> list[Text]:
    """At most `height` lines of at most `width` cells: bar and beat large, the entry counted down,
    the next notes with their fingerings, the mixer, `notice` whole."""
    above = [
        Block([_head(title, score, width)], rank=3),
        Block(_figures(stand, width, height)),
        Block([_entry_line(stand)]),
        *([Block(_said([notice], width))] if notice else []),
    ]
    mixer = Block(_mixer_lines(mix, width), rank=2)
    keys = _rows(printable(hint).split(BETWEEN), width) if hint else []
    foot = Block([line((row, DIM)) for row in keys], rank=4)
    taken = sum(len(b.lines) + 1 for b in (*above, mixer, foot))
    part = _part_lines(stand, score, width, max(1, height - taken))
    return [_cut(row, width) for row in fit([*above, Block(part, rank=1), mixer, foot], height)]


def _cut(row: Text, width: int) -> Text:
    if row.cell_len > width:
        row = row.copy()
        row.truncate(width, overflow="ellipsis")
    return row


def _head(title: str, score: ScoreLayout, width: int) -> Text:
    tempo = Text(f"tempo {score.plan.exercise.tempo_bpm:g}   to bar {score.last_bar}", style=BOLD)
    named = printable(title or score.plan.exercise.passage.title)
    return ends(line(named), tempo, width - 1)


def _figures(stand: Stand, width: int, height: int) -> list[Text]:
    """Bar, beat and the entry as large as they fit, each with its name under it."""
    figures = [(stand.bar or "-", "bar" if stand.bar else "count-in", BOLD)]
    figures.append((str(stand.beat), f"beat of {stand.beats_in_bar}", NOW))
    if stand.entry_in is not None:
        bars = stand.entry_bars
        number = bars or stand.entry_beats
        figures.append((str(number), f"{'bars' if bars else 'beats'} to go", BOLD))
    for scale, from_rows in SCALES:
        drawn = [(big(figure, scale), name, style) for figure, name, style in figures]
        cells = [max(len(rows[0]), len(name)) for rows, name, _ in drawn]
        gaps = len(BETWEEN) * (len(cells) - 1)
        if height >= from_rows and sum(cells) + gaps <= width - len(MARGIN):
            return _drawn(drawn, cells)
    words = "   ".join(f"{name} {figure}" for figure, name, _ in figures[:2])
    return [line((words, BOLD))]


def _drawn(
    drawn: Sequence[tuple[tuple[str, ...], str, object]], cells: Sequence[int]
) -> list[Text]:
    rows = [
        line(
            *(
                (glyphs[row].ljust(wide) + BETWEEN, style)
                for (glyphs, _, style), wide in zip(drawn, cells, strict=True)
            )
        )
        for row in range(len(drawn[0][0]))
    ]
    names = [name.ljust(wide) for (_, name, _), wide in zip(drawn, cells, strict=True)]
    return [*rows, line((BETWEEN.join(names).rstrip(), DIM))]


def _entry_line(stand: Stand) -> Text:
    if stand.holds:
        return line(("held", NOW))
    if stand.entry_in is None:
        return line(("play" if stand.note is not None else "the end", BOLD))
    # The mark says it without colour: the last bar before the entry.
    mark = ">> " if stand.entry_bars == 0 else ""
    soon = stand.entry_in if stand.entry_in == "now" else f"in {stand.entry_in}"
    return line((f"{mark}entry {soon}", NOW if mark else BOLD))


# The part


def _part_lines(stand: Stand, score: ScoreLayout, width: int, room: int) -> list[Text]:
    """The notes from here on, a beat's together, as many lines as there is room for; fingerings
    under them; the number of the bar where a new one begins."""
    if stand.note is None or not score.groups:
        return []
    fingered = any(due.fingering for due in score.plan.dues)
    each = 3 if fingered else 2
    lines: list[Text] = []
    for groups in _page(score, score.group_of[stand.note], width)[: max(1, room // each)]:
        names, fingers = _system(groups, score, stand)
        # With a line to spare the systems stand apart, the fingerings near their notes.
        lines += [names, *([fingers] if fingered else []), Text()]
    return lines[:-1]


def _page(score: ScoreLayout, first: int, width: int) -> list[list[int]]:
    """Numbers of groups, line by line."""
    systems: list[list[int]] = [[]]
    taken = 0
    for number in range(first, len(score.groups)):
        wide = len(_bar_label(score, number, not systems[-1])) + _cells(score, number)
        if systems[-1] and taken + wide > width - 2 * len(MARGIN):
            systems.append([])
            taken, wide = 0, len(_bar_label(score, number, True)) + _cells(score, number)
        systems[-1].append(number)
        taken += wide
    return systems


def _cells(score: ScoreLayout, number: int) -> int:
    return sum(score.cells[0][k] for k in score.groups[number])


def _bar_label(score: ScoreLayout, number: int, first: bool) -> str:
    bar = score.bar_of[score.groups[number].start]
    before = score.bar_of[score.groups[number - 1].start] if number else None
    return f"|{bar} " if first or bar != before else ""


def _system(groups: Sequence[int], score: ScoreLayout, stand: Stand) -> tuple[Text, Text]:
    names, fingers = Text(MARGIN, no_wrap=True), Text(MARGIN, no_wrap=True)
    for number in groups:
        label = _bar_label(score, number, number == groups[0])
        names.append(label, style=DIM)
        fingers.append(" " * len(label))
        for k in score.groups[number]:
            cells = score.cells[0][k]
            here = k == stand.note and stand.entry_in is None
            names.append(score.names[k], style=SOUNDING if here else BOLD)
            names.append(" " * (cells - len(score.names[k])))
            fingers.append((score.plan.dues[k].fingering or "").ljust(cells))
    names.rstrip()
    fingers.rstrip()
    return names, fingers


# The mixer


def _mixer_lines(mix: Sequence[MixLine], width: int) -> list[Text]:
    return [line(row) for row in _rows([_mix_words(one) for one in mix], width)]


def _rows(pieces: Sequence[str], width: int) -> list[str]:
    """One piece after the other, on as many lines as they need; none is broken."""
    rows: list[str] = []
    for words in pieces:
        if rows and len(rows[-1]) + len(BETWEEN) + len(words) <= width - 2 * len(MARGIN):
            rows[-1] += f"{BETWEEN}{words}"
        else:
            rows.append(words)
    return rows


def _mix_words(one: MixLine) -> str:
    name = printable(one.name)
    short = name if len(name) <= NAME_CELLS else f"{name[: NAME_CELLS - 1]}…"
    if one.chosen:
        short = f"> {short}"
    side = _side_words(one.pan)
    if one.muted and not one.solo:
        return f"{short} muted{side}"
    level = f"{round(one.level_db):+d}".replace("+0", "0")
    return f"{short} {'solo ' if one.solo else ''}{level} dB{side}"


def _side_words(pan: float) -> str:
    """ " left 50 %"; at the end " left", in the middle nothing."""
    share = round(100 * abs(pan))
    if not share:
        return ""
    return f" {'left' if pan < 0 else 'right'}{f' {share} %' if share < 100 else ''}"


# Between takes


def fit_body(
    found: EnsembleFit, score: ScoreLayout, width: int, height: int, outcome: str = ""
) -> RenderableType:
    """What to do, how the take stood against the gate (`outcome`), what was found, and note by note
    what stood out."""
    first, *others = fit_sentences(found)
    said = _said([first, outcome, *others], width)
    return _page_of(said, fit_table(found, score, width, _room(said, height)), height)


def section_body(found: Section, width: int, height: int, more: str = "") -> RenderableType:
    """What to do, what was found (and `more`), and who stands where."""
    said = _said((*section_sentences(found), more), width)
    return _page_of(said, section_table(found, width, _room(said, height)), height)


def _page_of(said: list[Text], table: RenderableType | None, height: int) -> RenderableType:
    if table is None:
        return Lines(tuple(said[:height]))
    return Group(Lines((*said, Text())), table)


def _room(said: Sequence[Text], height: int) -> int:
    return height - len(said) - 1


def _said(sentences: Sequence[str], width: int) -> list[Text]:
    """The first sentence bold; all of them whole, in as many lines as they need."""
    rows: list[Text] = []
    for number, sentence in enumerate(filter(None, sentences)):
        broken = wrap(printable(sentence), max(10, width - 2 * len(MARGIN)))
        rows += [line((row, "" if number else BOLD)) for row in broken]
    return rows
