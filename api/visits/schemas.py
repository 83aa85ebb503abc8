"""Answers about visits."""

from datetime import date

from api.schedules.schemas import Forbidding
from api.schemas import Answer


class VisitJobOut(Answer):
    """One renewal at a visit.

    Attributes:
        likely: its own best day, had it a visit to itself.
        planned_cost: of the renewal, in the fleet's currency.
    """

    fitment_id: str
    kind: str
    part: str
    position: str | None
    safety: bool
    likely: date | None
    planned_cost: float


class VisitOut(Answer):
    """One visit, in the week that begins on a day.

    Attributes:
        hours: labour of its jobs, at the middle of each range.
        money: planned cost of its jobs.
        cost: set-up, access and what moving its jobs from their own best days costs.
    """

    week_of: date
    jobs: list[VisitJobOut]
    hours: float
    money: float
    cost: float
    cautions: list[str]


class PartNote(Answer):
    """A part and what there is to say about it, and to mind; null where it is about the visits as a whole."""

    fitment_id: str | None
    kind: str | None
    part: str | None
    position: str | None
    words: str
    safety: bool
    cautions: list[str]


class VisitsOut(Forbidding):
    """A car's work grouped into visits.

    Attributes:
        saved: what grouping saves against a visit for every job on its own best day.
        exact: true: there is no better grouping; false: found by a heuristic, over twelve jobs.
        could_not_fit: what is in the way of which part, safety parts first; nothing is dropped silently.
        accepted_risk: what the keeper put off or declined, and why; warnings of limits stay.
        leave_alone: what not to touch, and why.
    """

    vehicle_id: str
    vehicle_name: str
    as_of: date
    within_years: float
    currency: str
    visits: list[VisitOut]
    cost: float
    cost_apart: float
    saved: float
    exact: bool
    could_not_fit: list[PartNote]
    accepted_risk: list[PartNote]
    leave_alone: list[PartNote]
