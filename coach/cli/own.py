"""What the practice book knows of the player, for commands that plan."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from coach.cli.record import book_path, own_book

if TYPE_CHECKING:
    from coach.core.exercise import Drill
    from coach.core.fingering.weights import Weights
    from coach.core.instrument import Instrument


def own_weights(instrument: Instrument) -> Weights:
    """What finger moves cost: the assumptions of configs/fingering.toml, in whose place the
    player's own times come as the book gets to know them."""
    from coach.core.profile.costs import measured_costs
    from coach.core.profile.profile import profile_of
    from coach.files.fingering import load_weights

    weights = load_weights()
    if not book_path().exists():
        return weights
    with own_book() as book:
        profile = profile_of(book.tallies(instrument.name), book.today())
    return replace(weights, measured=measured_costs(profile, weights, instrument))


def own_instrument() -> str | None:
    """What the player has chosen to play (`coach player NAME --instrument`), if anything."""
    if not book_path().exists():
        return None
    with own_book() as book:
        return book.instrument()


def instrument_for(asked: str | None) -> Instrument:
    """The instrument that was asked for, else the player's own, else the double horn."""
    from coach.files.configs import load_instrument
    from coach.files.fitting import DEFAULT_INSTRUMENT

    return load_instrument(asked or own_instrument() or DEFAULT_INSTRUMENT)


def kept_drill(name: str, instrument: str | None) -> tuple[Drill, Instrument] | None:
    """What was played last under this name, as a drill: for passages out of scores, or whose file
    is gone.  None if nothing was."""
    from coach.cli.lately import drill_of

    if not book_path().exists():
        return None
    with own_book() as book:
        kept = book.latest(1, name)
    if not kept or instrument not in (None, kept[0].instrument):
        return None
    return drill_of(kept[0])
