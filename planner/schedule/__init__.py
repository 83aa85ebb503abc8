"""From intervals to dates: due windows of parts in service, visits that share work, and a car's plan."""

from planner.schedule.arithmetic import DECIDERS, Driven, DueDays, Fitted, Rules, due_days
from planner.schedule.brought_forward import value_brought_forward
from planner.schedule.buying import BuyingItem, BuyingList, CostRange, OfferedPart, buying_list
from planner.schedule.due import DueDates, DueWindow, InService, due_dates, due_window
from planner.schedule.fleet import FleetDue, replan
from planner.schedule.opening import Season
from planner.schedule.own_path import rate_as_planned, rate_on_own_path
from planner.schedule.plan import CarPlan, PlannedPart, PlannedRenewal, plan_car
from planner.schedule.snooze import Snooze, Snoozed, put_off
from planner.schedule.visits import EXACT_UP_TO, Visit, VisitPlan, group_visits
from planner.schedule.work import Work, Workshop

__all__ = [
    "DECIDERS",
    "EXACT_UP_TO",
    "BuyingItem",
    "BuyingList",
    "CarPlan",
    "CostRange",
    "Driven",
    "DueDates",
    "DueDays",
    "DueWindow",
    "Fitted",
    "FleetDue",
    "InService",
    "OfferedPart",
    "PlannedPart",
    "PlannedRenewal",
    "Rules",
    "Season",
    "Snooze",
    "Snoozed",
    "Visit",
    "VisitPlan",
    "Work",
    "Workshop",
    "buying_list",
    "due_dates",
    "due_days",
    "due_window",
    "group_visits",
    "plan_car",
    "put_off",
    "rate_as_planned",
    "rate_on_own_path",
    "replan",
    "value_brought_forward",
]
