"""What may fail, and what may stop the car, over a horizon or a tour; and the spares to have ready."""

from planner.interval.odds import chance_in_words, odds
from planner.risk.exposure import CarRisk, Chance, Exposure, car_risk, chance_draws, failure_chance
from planner.risk.months import fails_by_month, month_ends, month_of
from planner.risk.orders import InUse, KindOrder, MonthNeed, parts_to_order
from planner.risk.sets import set_of
from planner.risk.shelf import shelf_warning
from planner.risk.spares import Stock, poisson_binomial, stock_needed
from planner.risk.tour import PackageRisk, Spare, TourPart, TourRisk, ease_at_roadside, tour_risk
from planner.risk.workload import MonthHours, workshop_hours

__all__ = [
    "CarRisk",
    "Chance",
    "Exposure",
    "InUse",
    "KindOrder",
    "MonthHours",
    "MonthNeed",
    "PackageRisk",
    "Spare",
    "Stock",
    "TourPart",
    "TourRisk",
    "car_risk",
    "chance_draws",
    "chance_in_words",
    "ease_at_roadside",
    "fails_by_month",
    "failure_chance",
    "month_ends",
    "month_of",
    "odds",
    "parts_to_order",
    "poisson_binomial",
    "set_of",
    "shelf_warning",
    "stock_needed",
    "tour_risk",
    "workshop_hours",
]
