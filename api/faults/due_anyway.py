"""Suspects that are to be renewed whatever the fault is: a search for the fault never postpones a limit."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from api.bridge.coefficients import Coefficients
from api.faults import store
from planner.catalogue import load_catalogue

if TYPE_CHECKING:
    from datetime import date

    from sqlmodel import Session

    from api.storage.tables import FaultFinding as Row
    from api.storage.tables import Forecast
    from planner.faults import FaultFinding

BY_LIMIT = "due anyway by its limit, whatever the fault is"
FOUND_BAD = "due anyway as it was found when last looked at, whatever the fault is"
BY_SAFETY = "due anyway as a safety part whose day has come, whatever the fault is"


def with_what_is_due(session: Session, row: Row, finding: FaultFinding, as_of: date) -> FaultFinding:
    """The same question, with what is due anyway on that day said of each suspect that is still on the car."""
    due = {
        forecast.fitment_id: _why(forecast, as_of)
        for forecast, _ in store.forecasts(session, row.fleet_id, row.vehicle_id)
    }
    candidates = tuple(replace(one, due_anyway=due.get(one.part, "")) for one in finding.candidates)
    return replace(finding, candidates=candidates)


def _why(forecast: Forecast, as_of: date) -> str:
    kept = Coefficients.from_json(forecast.coefficients)
    if kept.limit is not None and kept.limit <= as_of:
        return BY_LIMIT
    if kept.since.found_bad is not None:
        return FOUND_BAD
    reached = forecast.due_likely is not None and forecast.due_likely <= as_of
    return BY_SAFETY if reached and load_catalogue()[forecast.kind].safety else ""
