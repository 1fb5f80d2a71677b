"""What the practice book knows of the player, for commands that plan."""

from __future__ import annotations

from dataclasses import replace

from coach.core.fingering.weights import Weights
from coach.core.instrument import Instrument


def own_weights(instrument: Instrument) -> Weights:
    """What finger moves cost: the assumptions of configs/fingering.toml, in whose place the
    player's own times come as the book gets to know them."""
    from coach.book.practice import PracticeBook
    from coach.core.profile.costs import measured_costs
    from coach.core.profile.profile import profile_of
    from coach.files.configs import own_folder
    from coach.files.fingering import load_weights

    weights = load_weights()
    path = own_folder() / "practice.sqlite"
    if not path.exists():
        return weights
    with PracticeBook(path) as book:
        profile = profile_of(book.tallies(instrument.name), book.today())
    return replace(weights, measured=measured_costs(profile, weights, instrument))
