"""A player without hardware: performs a plan with human slips and sounds it as brass."""
