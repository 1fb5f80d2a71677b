"""Lines: rows of pitches along a ladder, as players practise them."""

from __future__ import annotations

from collections.abc import Sequence

from coach.core.patterns.keys import Ladder, semitones_of_partial

DIRECTIONS = ("up-down", "up", "down", "down-up")
Ladders = tuple[Ladder, Ladder]


def run(ladders: Ladders, rungs: int, direction: str = "up-down") -> list[int]:
    """From rung 0 to `rungs` and back; `ladders` are the one to climb and the one to descend."""
    up, down = ladders
    rising = [up.at(rung) for rung in range(rungs + 1)]
    falling = [down.at(rung) for rung in range(rungs, -1, -1)]
    lines = {
        "up": rising,
        "down": falling,
        "up-down": rising + falling[1:],
        "down-up": falling + rising[1:],
    }
    return lines[direction]


def figures(
    ladders: Ladders,
    rungs: int,
    shape: Sequence[int],
    direction: str = "up-down",
    *,
    inside: bool = False,
) -> list[int]:
    """A figure on every rung: `shape` counts rungs from it, (0, 2) being thirds of a scale.

    The way down mirrors the shape.  The line ends on the rung that it was making for; with `inside`
    no figure reaches past the last rung.
    """
    up, down = ladders
    short = max(0, max(shape) - 1) if inside else 0
    rising = [up.at(start + step) for start in range(rungs - short) for step in shape]
    falling = [down.at(start - step) for start in range(rungs, short, -1) for step in shape]
    lines = {
        "up": _ending_on(rising, up.at(rungs)),
        "down": _ending_on(falling, down.at(0)),
        "up-down": _ending_on(rising + falling, down.at(0)),
        "down-up": _ending_on(falling + rising, up.at(rungs)),
    }
    return lines[direction]


def _ending_on(line: list[int], last: int) -> list[int]:
    return line if line and line[-1] == last else [*line, last]


def growing(ladder: Ladder, largest: int) -> list[int]:
    """From rung 0 to ever farther rungs, back each time: second, third ... up to `largest`
    (8 is the octave of a scale)."""
    line = [pitch for rung in range(1, largest) for pitch in (ladder.at(0), ladder.at(rung))]
    return [*line, ladder.at(0)]


def repeated(line: Sequence[int], times: int) -> list[int]:
    """Every note of a line `times` over, but the last once: it is held."""
    return [pitch for pitch in line[:-1] for _ in range(times)] + list(line[-1:])


def with_rests(line: Sequence[int]) -> list[int | None]:
    """Every note of a line followed by a rest, but the last."""
    spread: list[int | None] = []
    for pitch in line:
        spread.extend((pitch, None))
    return spread[:-1]


def partials(fundamental: int, numbers: Sequence[int]) -> list[int]:
    """The nominal pitches of partials on one fundamental: one fingering, changed by the lips."""
    return [fundamental + semitones_of_partial(number) for number in numbers]
