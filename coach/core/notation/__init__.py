"""A passage as it is printed: bars of signs with values, dots, tuplets, ties and beams."""

from coach.core.notation.model import Sign, Tuplet, WrittenBar
from coach.core.notation.writing import notated

__all__ = ["Sign", "Tuplet", "WrittenBar", "notated"]
