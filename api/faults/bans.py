"""Which cars must not be driven, as their open fault cases say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from api.faults import case, shelf, store

if TYPE_CHECKING:
    from collections.abc import Collection

    from sqlmodel import Session

MOST = 50
"""Bans told at once; a fleet with more has other worries than a long list."""


@dataclass(frozen=True)
class Ban:
    """An open case of a complaint with which nobody should drive on.

    Attributes:
        finding_id: the case.
        vehicle_id, car: the car and its name.
        title: the complaint.
        words: what to do at once.
    """

    finding_id: str
    vehicle_id: str
    car: str
    title: str
    words: str


def bans(
    session: Session,
    fleet_id: str,
    vehicle_ids: Collection[str] | None = None,
    *,
    most: int | None = None,
) -> list[Ban]:
    """The bans on driving in a fleet, oldest case first.

    Args:
        session: a session that reads.
        fleet_id: whose.
        vehicle_ids: these cars only; None: all.
        most: so many, the oldest; None: however many there are.

    Returns:
        A case whose complaint was gone after its last step holds no ban.
    """
    found = []
    for row, car in store.open_cases(session, fleet_id, vehicle_ids):
        complaint = shelf.complaint_of(row)
        if complaint.stop_driving and case.cure_of(row) is None:
            found.append(Ban(row.id, row.vehicle_id, car, row.title, complaint.warning))
    return found[:most]
