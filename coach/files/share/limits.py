"""How much one file of records may ask for, and why so much."""

from __future__ import annotations

# A take of 2,000 notes, the most that a drill has, takes 1.3 MB; one of 30 notes 19 kB.
MAX_LINE_BYTES = 8_000_000
# Thirty years of 300 takes a day, and ten times what else there may be.
MAX_LINES = 4_000_000
# 100,000 takes are 1.9 GB.
MAX_BYTES = 40_000_000_000
# Drill files are held in memory until the rest is read; one has 1 kB, a long written-out one 50.
MAX_DRILLS = 1_000
MAX_DRILL_LETTERS = 50_000_000
