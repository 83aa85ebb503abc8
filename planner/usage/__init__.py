"""How far a car goes in a year: odometer readings to yearly distance with its spread, its season and its lay-ups."""

from planner.usage.planned import NOTHING_PLANNED, PlannedUse, RoadAhead
from planner.usage.season import NORTHERN_SEASON
from planner.usage.yearly import Usage, UsagePrior, yearly_distance

__all__ = [
    "NORTHERN_SEASON",
    "NOTHING_PLANNED",
    "PlannedUse",
    "RoadAhead",
    "Usage",
    "UsagePrior",
    "yearly_distance",
]
