"""From intervals to dates: due windows of parts in service."""

from planner.schedule.arithmetic import DECIDERS, Driven, DueDays, Fitted, Rules, due_days
from planner.schedule.due import DueDates, DueWindow, InService, due_dates, due_window
from planner.schedule.own_path import rate_on_own_path

__all__ = [
    "DECIDERS",
    "Driven",
    "DueDates",
    "DueDays",
    "DueWindow",
    "Fitted",
    "InService",
    "Rules",
    "due_dates",
    "due_days",
    "due_window",
    "rate_on_own_path",
]
