"""What may fail, and what may stop the car, over a horizon."""

from planner.interval.odds import chance_in_words, odds
from planner.risk.exposure import CarRisk, Chance, Exposure, car_risk, chance_draws, failure_chance

__all__ = [
    "CarRisk",
    "Chance",
    "Exposure",
    "car_risk",
    "chance_draws",
    "chance_in_words",
    "failure_chance",
    "odds",
]
