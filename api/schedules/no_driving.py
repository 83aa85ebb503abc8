"""Cars that nobody should drive, in the words that every answer, digest, mail, calendar and event has for them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from api.faults.bans import MOST, bans
from api.schedules.schemas import DoNotDrive

if TYPE_CHECKING:
    from collections.abc import Collection

    from sqlmodel import Session

    from api.faults.bans import Ban


def forbidden(session: Session, fleet_id: str, vehicle_id: str | None = None) -> list[DoNotDrive]:
    """What forbids driving in a fleet, or one car of it, oldest case first; at most ``MOST``."""
    chosen = None if vehicle_id is None else [vehicle_id]
    return [_told(ban) for ban in bans(session, fleet_id, chosen, most=MOST)]


def more(found: Collection[DoNotDrive]) -> list[str]:
    """What stands beside a list that is full."""
    full = f"Do not drive: {MOST} cases are named, and there may be more; each car's own answers name all of its own."
    return [full] if len(found) >= MOST else []


def by_car(session: Session, fleet_id: str, vehicle_ids: Collection[str]) -> dict[str, str]:
    """The words for each of these cars that nobody should drive, however many they are."""
    found: dict[str, str] = {}
    for ban in bans(session, fleet_id, vehicle_ids) if vehicle_ids else ():
        found[ban.vehicle_id] = " ".join(filter(None, (found.get(ban.vehicle_id), _told(ban).words)))
    return found


def _told(ban: Ban) -> DoNotDrive:
    return DoNotDrive(
        finding_id=ban.finding_id,
        vehicle_id=ban.vehicle_id,
        vehicle_name=ban.car,
        complaint=ban.title,
        words=f"Do not drive {ban.car}: {ban.title}. {ban.words}",
    )
