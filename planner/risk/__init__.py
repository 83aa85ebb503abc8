"""What may fail, and what may stop the car, over a horizon or a tour; and the spares to have ready."""

from planner.interval.odds import chance_in_words, odds
from planner.risk.exposure import CarRisk, Chance, Exposure, car_risk, chance_draws, failure_chance
from planner.risk.spares import Stock, poisson_binomial, stock_needed
from planner.risk.tour import PackageRisk, Spare, TourPart, TourRisk, tour_risk

__all__ = [
    "CarRisk",
    "Chance",
    "Exposure",
    "PackageRisk",
    "Spare",
    "Stock",
    "TourPart",
    "TourRisk",
    "car_risk",
    "chance_draws",
    "chance_in_words",
    "failure_chance",
    "odds",
    "poisson_binomial",
    "stock_needed",
    "tour_risk",
]
