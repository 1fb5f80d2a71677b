"""How the tempo moves from take to take: `make_pacer` gives a `Pacer` for a gate."""

from coach.core.pace.pacer import Pacer, make_pacer
from coach.core.pace.prior import EarlierTake

__all__ = ["EarlierTake", "Pacer", "make_pacer"]
