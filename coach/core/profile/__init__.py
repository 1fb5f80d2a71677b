"""What the takes tell of the player: ceilings, finger moves, syllables, registers, and how sure."""
