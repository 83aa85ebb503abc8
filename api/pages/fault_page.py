"""A fault case's page: the suspects as odds, what is book and what is this car, the next step and what each result would do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api.conventions import page_of
from api.faults import answers, case, service, store
from api.pages.links import asked_for, next_page
from api.vehicles.service import found
from planner.catalogue import load_conditions
from planner.faults.words import odds_in_words

if TYPE_CHECKING:
    from fastapi import Request
    from sqlmodel import Session

    from api.faults.shown import FaultFindingOut, NextStepOut
    from api.security import Principal
    from api.storage.tables import FaultFinding

ON_A_PAGE = 30
FIRST_SUSPECTS = 3
"""Suspects that are named for each result of the next step."""


def content(session: Session, who: Principal, finding_id: str) -> dict[str, Any]:
    """What the page shows.

    Raises:
        NotFound: no such case in this fleet.
    """
    row = service.found(session, who, finding_id)
    shown = service.shown(session, row)
    ahead = _ahead(session, who, row)
    return {
        "case": shown,
        "car": found(session, who.fleet_id, row.vehicle_id),
        "when": [load_conditions()[name].name for name in shown.conditions],
        "ahead": ahead,
        "gone": case.cure_of(row) is not None,
        "checks": [] if shown.state == "closed" else case.question(session, row).checks,
        "names": {
            part["fitment_id"]: answers.part_name(row, part["fitment_id"])
            for part in row.opened_with["parts"]
        },
        "ranges": _ranges(shown),
        "first_suspects": FIRST_SUSPECTS,
    }


def cases(
    session: Session, who: Principal, request: Request, vehicle_id: str, cursor: str | None
) -> dict[str, Any]:
    """What the list of a car's cases shows.

    Raises:
        NotFound: no such car in this fleet.
    """
    car = found(session, who.fleet_id, vehicle_id)
    asked = asked_for(request, cursor, ON_A_PAGE)
    rows = page_of(session, store.findings_of(who.fleet_id, vehicle_id), asked)
    return {"car": car, "cases": [answers.item(row) for row in rows], "next_page": next_page(asked)}


def _ahead(session: Session, who: Principal, row: FaultFinding) -> NextStepOut | None:
    """The next step; None in a closed case, and in one whose complaint is gone."""
    if row.closed_on is not None or case.cure_of(row) is not None:
        return None
    return service.next_step(session, who, row.id)


def _ranges(shown: FaultFindingOut) -> dict[str, tuple[str, str]]:
    """Each suspect's 80 % range as odds, by fitment; left out where both ends read alike."""
    found_here = {
        one.fitment_id: (odds_in_words(one.low), odds_in_words(one.high)) for one in shown.ranking.suspects
    }
    return {part: ends for part, ends in found_here.items() if ends[0] != ends[1]}
