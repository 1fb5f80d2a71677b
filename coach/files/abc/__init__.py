"""ABC notation 2.1: to a score, and from a passage."""

from coach.files.abc.read import read_abc
from coach.files.abc.write import abc_text

__all__ = ["abc_text", "read_abc"]
