"""When a passage that goes is due again: gaps that grow with every check that went.

Testing after growing gaps: Landauer and Bjork 1978 (from memory).  That growing gaps beat equal
ones is disputed (Karpicke and Roediger 2007, from memory); that a gap beats none is not (Cepeda et
al. 2006, Psychol. Bull. 132:354, from memory), and on instruments a night between sessions did what
minutes did not (Simmons 2012, J. Res. Music Educ. 59:357; Wiseheart et al. 2017, PLoS ONE
12:e0182986).  The best gap grew with the time to the test, from 20 to 40 % of a week to 5 to 10 %
of a year (Cepeda et al. 2008, Psychol. Sci. 19:1095, verbal material, from memory).
"""

from __future__ import annotations

import itertools

from coach.core.planning.facts import Worked
from coach.core.planning.settings import Gaps


def gap_days(passage: Worked, days_left: int | None, gaps: Gaps) -> float:
    """Days from one check to the next."""
    went = itertools.takewhile(lambda check: check.passed, reversed(passage.checks))
    streak = len({check.day for check in went})
    # A float power overflows after some hundred checks; the longest gap is reached long before.
    grown = gaps.first_days * gaps.growth ** min(streak, 30)
    before_concert = grown if days_left is None else gaps.concert_share * days_left
    return max(1.0, min(grown, before_concert, gaps.longest_days))


def overdue(passage: Worked, today: int, gap: float) -> float:
    """How many gaps long it has waited for its check: due from 1 on, 0 if it was played today."""
    if passage.last_day is None or passage.last_day >= today:
        return 0.0
    since = passage.checks[-1].day if passage.checks else passage.last_day
    return (today - since) / gap
