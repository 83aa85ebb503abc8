"""The calendar day it is where a fleet is."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from api.fleets import store

if TYPE_CHECKING:
    from sqlmodel import Session


def today_of(session: Session, fleet_id: str) -> date:
    """The calendar day it is now where the fleet is."""
    return today_in(store.time_zone(session, fleet_id))


def today_in(time_zone: str) -> date:
    """The calendar day it is now in a zone, an IANA name."""
    return datetime.now(ZoneInfo(time_zone)).date()
