"""The plan of the day: which passages, in which order, how long, and what to do with each."""

from coach.core.planning.facts import Check, DayLoad, KnownCeiling, PlannedDay, Worked
from coach.core.planning.goals import Goal
from coach.core.planning.plan import Block, DayPlan, plan_today
from coach.core.planning.settings import Concert, Gaps, Load, PlanningSettings, Progress, Sharing

__all__ = [
    "Block",
    "Check",
    "Concert",
    "DayLoad",
    "DayPlan",
    "Gaps",
    "Goal",
    "KnownCeiling",
    "Load",
    "PlannedDay",
    "PlanningSettings",
    "Progress",
    "Sharing",
    "Worked",
    "plan_today",
]
