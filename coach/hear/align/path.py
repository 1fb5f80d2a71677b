"""Two rows of features laid along one another by dynamic time warping.

The library is dtw-python (GPL, as this program): 3 MB, with wheels for every system, on numpy and
scipy, and it takes any table of costs and any pattern of steps.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from coach.errors import not_installed
from coach.hear.align.bank import Features, Floats

Places = NDArray[np.int64]

# A step along one side only costs so much more than half a diagonal: a tempo changes gently.
SIDE_WEIGHT = 2.0


def costs(page: Features, sound: Features, onset_share: float) -> Floats:
    """What it costs to lay row i of the page on row j of the sound, (i, j): how different is what
    sounds (0 to 1), and `onset_share` of the distance between what begins."""
    away = 1 - page.sounding @ sound.sounding.T
    both = (page.onsets**2).sum(axis=1)[:, None] + (sound.onsets**2).sum(axis=1)[None, :]
    apart = np.sqrt(np.maximum(both - 2 * page.onsets @ sound.onsets.T, 0))
    made: Floats = away + onset_share * apart
    return made


def through(table: Floats) -> tuple[Places, Places]:
    """The cheapest way from corner to corner of a table of costs, (i, j) along it; it is nowhere
    more than twice as steep or as flat as the diagonal (symmetricP1 of Sakoe and Chiba 1978)
    where that leads to the corner."""
    dtw = library()
    try:
        found = dtw.dtw(table, step_pattern="symmetricP1")
    except ValueError:
        found = dtw.dtw(table, step_pattern="symmetric2")
    return found.index1, found.index2


def inside(table: Floats, sound_left: float, page_left: float) -> tuple[Places, Places]:
    """The cheapest way through a table where either side may begin before the other and end after
    it: a row so left over costs `sound_left` or `page_left`."""
    dtw = library()
    framed = np.pad(table, 1)
    framed[0, :] = framed[-1, :] = sound_left
    framed[:, 0] = framed[:, -1] = page_left
    found = dtw.dtw(framed, step_pattern=_steps(dtw))
    rows, columns = found.index1 - 1, found.index2 - 1
    kept = (rows >= 0) & (rows < table.shape[0]) & (columns >= 0) & (columns < table.shape[1])
    return rows[kept], columns[kept]


def _steps(dtw: Any) -> Any:
    """Diagonal steps count twice, sideways ones SIDE_WEIGHT times; rows of (pattern, rows back,
    columns back, weight; -1 where it comes from)."""
    diagonal = [[1, 1, 1, -1], [1, 0, 0, 2]]
    sideways = [[2, 0, 1, -1], [2, 0, 0, SIDE_WEIGHT], [3, 1, 0, -1], [3, 0, 0, SIDE_WEIGHT]]
    return dtw.StepPattern(np.array(diagonal + sideways), "NA")


def library() -> Any:
    """The library; CoachError where it is not installed."""
    try:
        import dtw
    except ImportError:
        raise not_installed("finding the bars needs", "dtw-python") from None
    return dtw
