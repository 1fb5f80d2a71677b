"""Pairs of true and heard attacks, and the F-measure that follows."""

from __future__ import annotations

from collections.abc import Sequence


def f_measure(
    true_s: Sequence[float], heard_s: Sequence[float], window_s: float
) -> tuple[float, float, float]:
    """(F, precision, recall) of attack times in seconds; a pair may be `window_s` apart, no more.
    0 where nothing is true or nothing heard."""
    pairs = matched(true_s, heard_s, window_s)
    return f_of(pairs, len(true_s), len(heard_s))


def f_of(pairs: int, true: int, heard: int) -> tuple[float, float, float]:
    if not pairs:
        return 0.0, 0.0, 0.0
    precision, recall = pairs / heard, pairs / true
    return 2 * precision * recall / (precision + recall), precision, recall


def matched(true_s: Sequence[float], heard_s: Sequence[float], window_s: float) -> int:
    """The greatest number of pairs.  With one window for all, taking in order of time the first
    that fits is best."""
    true, heard = sorted(true_s), sorted(heard_s)
    i = j = pairs = 0
    while i < len(true) and j < len(heard):
        # Rounded, so that a distance of exactly the window counts.
        off = round(heard[j] - true[i], 9)
        if abs(off) <= window_s:
            pairs, i, j = pairs + 1, i + 1, j + 1
        elif off < 0:
            j += 1
        else:
            i += 1
    return pairs
