"""From a life to an interval: costs, caps, and when renewing beats running to failure."""

from planner.interval.advice import BoundBy, Interval
from planner.interval.caps import NO_CAP, Cap, book_cap, shortest
from planner.interval.costs import Costs, default_costs
from planner.interval.in_service import WaitAdvice, best_wait
from planner.interval.optimum import best_interval
from planner.interval.tables import IntervalColumns, IntervalTable, interval_table

__all__ = [
    "NO_CAP",
    "BoundBy",
    "Cap",
    "Costs",
    "Interval",
    "IntervalColumns",
    "IntervalTable",
    "WaitAdvice",
    "best_interval",
    "best_wait",
    "book_cap",
    "default_costs",
    "interval_table",
    "shortest",
]
