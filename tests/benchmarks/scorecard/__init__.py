"""The whole scorecard: what the coach does beside what other libraries do, in one run."""
