"""From a life to an interval: costs, caps, and when renewing beats running to failure."""

from planner.interval.advice import BoundBy, Interval
from planner.interval.caps import NO_CAP, Cap, book_cap, shortest
from planner.interval.costs import Costs, default_costs
from planner.interval.horizon import HorizonPlan, plan_to_the_end
from planner.interval.in_service import WaitAdvice, best_wait, cost_of_waiting, marginal_cost
from planner.interval.inspection import Delay, InspectionRule, best_inspection, onset
from planner.interval.kind_rule import KindRule, best_kind_rule, lognormal_use, whichever_first
from planner.interval.optimum import best_interval
from planner.interval.policies import Looking, Policy, Spare, compare_policies
from planner.interval.tables import IntervalColumns, IntervalTable, interval_table

__all__ = [
    "NO_CAP",
    "BoundBy",
    "Cap",
    "Costs",
    "Delay",
    "HorizonPlan",
    "InspectionRule",
    "Interval",
    "IntervalColumns",
    "IntervalTable",
    "KindRule",
    "Looking",
    "Policy",
    "Spare",
    "WaitAdvice",
    "best_inspection",
    "best_interval",
    "best_kind_rule",
    "best_wait",
    "book_cap",
    "compare_policies",
    "cost_of_waiting",
    "default_costs",
    "interval_table",
    "lognormal_use",
    "marginal_cost",
    "onset",
    "plan_to_the_end",
    "shortest",
    "whichever_first",
]
