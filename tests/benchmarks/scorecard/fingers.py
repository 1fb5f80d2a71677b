"""The fingering planner beside scipy's shortest path on the graph of the same costs."""

from __future__ import annotations

from random import Random

from scipy.sparse.csgraph import dijkstra

from coach.core.fingering.planner import plans
from tests.benchmarks.fingering import graph_of, problem_for, wandering, with_figures
from tests.benchmarks.scorecard.processes import busy, least_busy
from tests.benchmarks.scorecard.rows import Figure

NOTES, QUICK_NOTES = 1000, 300


def measured(quick: bool) -> dict[str, Figure]:
    """Figures for rows.FINGERING."""
    count = QUICK_NOTES if quick else NOTES
    return {
        **_compared("plain", wandering(count, Random(3))),
        **_compared("figures", with_figures(count, Random(4))),
    }


def _compared(kind: str, pitches: list[int]) -> dict[str, Figure]:
    problem = problem_for(pitches)
    cost, ours_s = least_busy(lambda: plans(problem)[0].cost)
    (graph, goal), build_s = busy(lambda: graph_of(problem))
    # A graph has no edges of weight 0: each has 1 more, one a note and one at the goal.
    more = len(pitches) + 1
    theirs, theirs_s = least_busy(lambda: float(dijkstra(graph, indices=0)[goal]) - more)
    n = f"{len(pitches):,} notes"
    return {
        f"{kind} cost": Figure(cost, theirs, n),
        f"{kind} search": Figure(ours_s, theirs_s, n),
        f"{kind} whole": Figure(ours_s, theirs_s + build_s, n),
    }
