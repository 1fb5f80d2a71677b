"""Blocks of lines that fit a window: the least important go first when it is too small."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, RenderResult
from rich.segment import Segment
from rich.text import Text

MARGIN = "  "


@dataclass(frozen=True, slots=True)
class Block:
    """Lines that belong together; `rank` 0 always stays, the highest rank goes first.

    `spaced`: an empty line before it where there is room.
    """

    lines: Sequence[Text]
    rank: int = 0
    spaced: bool = True


@dataclass(frozen=True, slots=True)
class Lines:
    """Lines of text, cropped at the right edge and never wrapped."""

    lines: tuple[Text, ...]

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        for line in self.lines:
            yield from _cropped(line, options.max_width).render(console)
            yield Segment.line()


def _cropped(line: Text, width: int) -> Text:
    if line.cell_len <= width:
        return line
    line = line.copy()
    line.truncate(width, overflow="ellipsis")
    return line


def fit(blocks: Iterable[Block], height: int) -> list[Text]:
    """The lines of the blocks, at most `height` of them."""
    kept = [block for block in blocks if block.lines]
    while sum(len(b.lines) for b in kept) > height and any(b.rank for b in kept):
        kept.remove(max(kept, key=lambda block: block.rank))
    spare = height - sum(len(block.lines) for block in kept)
    lines: list[Text] = []
    for block in kept:
        if block.spaced and lines and spare > 0:
            lines.append(Text())
            spare -= 1
        lines.extend(block.lines)
    return lines[:height]


def line(*parts: tuple[str, object] | str | Text) -> Text:
    """One unwrapped line behind the margin."""
    return Text.assemble(MARGIN, *parts, no_wrap=True)  # type: ignore[arg-type]


def ends(left: Text, right: Text, width: int) -> Text:
    """`left` and `right` at the two ends of a line; `left` is shortened when they meet."""
    room = max(0, width - right.cell_len - 2)
    kept = left.copy()
    kept.truncate(room, overflow="ellipsis")
    gap = " " * max(1, width - kept.cell_len - right.cell_len)
    return Text.assemble(kept, gap, right, no_wrap=True)
