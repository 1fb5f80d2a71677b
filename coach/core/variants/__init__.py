"""Exercises out of one passage, as a teacher makes them; `vary` chains them."""

from coach.core.variants.chain import STEPS, Step, vary

__all__ = ["STEPS", "Step", "vary"]
