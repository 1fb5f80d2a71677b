"""Other weights than those that come with the coach, to measure those of a training split."""

from __future__ import annotations

from pathlib import Path

from coach.hear.follow import follower
from coach.hear.follow.net import nets_of


def use(weights: str | None) -> None:
    """From now on the follower hears with the weights in this file; None: with its own."""
    if weights is None:
        return
    with Path(weights).open("rb") as file:
        made = nets_of(file)
    follower.nets = lambda: made  # type: ignore[assignment,attr-defined]
