"""Speed building: the whole way to a tempo for one passage or some, over days."""

from coach.core.building.plan import plan_building
from coach.core.building.settings import STAGES, STEPS, BuildingSettings, StepShare

__all__ = ["STAGES", "STEPS", "BuildingSettings", "StepShare", "plan_building"]
