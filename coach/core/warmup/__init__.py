"""The warm-up of the day: what it is made of, and how it is laid out over the minutes."""

from coach.core.warmup.limits import KINDS, KindShare, WarmupLimits
from coach.core.warmup.making import WARMUP
from coach.core.warmup.plan import SHORTEST_MINUTES, WeakSpot, plan_warmup
from coach.core.warmup.reach import check_comfortable, comfortable_of

__all__ = [
    "KINDS",
    "SHORTEST_MINUTES",
    "WARMUP",
    "KindShare",
    "WarmupLimits",
    "WeakSpot",
    "check_comfortable",
    "comfortable_of",
    "plan_warmup",
]
