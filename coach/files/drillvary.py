"""The `[[vary]]` tables of a drill file: generators applied to the passage, one after the other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from coach.core.passage import Passage
from coach.core.variants import STEPS, Step, vary
from coach.core.variants.chain import options_of
from coach.errors import FileError
from coach.files.drillkinds import check_size
from coach.files.toml import Table


def varied(
    table: Table, passages: Sequence[Passage], lowest: int, highest: int
) -> tuple[Passage, ...]:
    """The passages (written pitch) after every step; `lowest` and `highest` are written too."""
    steps = [_step(each) for each in table.tables("vary")]
    if not steps:
        return tuple(passages)
    try:
        made = vary(passages, steps, lowest=lowest, highest=highest)
    except ValueError as error:
        raise FileError(f"vary: {error}", str(table.path), "coach help vary tells more") from None
    for passage in made:
        check_size(passage, "vary", table.path)
    return made


def _step(table: Table) -> Step:
    make = table.choice("make", STEPS)
    known = options_of(make)
    options = {key: _option(table, key, known[key]) for key in known if key in table}
    table.finish()
    return Step(make, options)


def _option(table: Table, key: str, usual: Any) -> Any:
    """The value of an option, of the kind its default has."""
    if isinstance(usual, tuple):
        return table.wholes(key, -24, 64)
    if isinstance(usual, float):
        return table.number(key, 0.05, 4)
    if isinstance(usual, int):
        return table.whole(key, 1, 64)
    return table.text(key)
