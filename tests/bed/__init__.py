"""Takes with known truth, to measure the hearing on: spliced, synthetic and recorded playing."""
