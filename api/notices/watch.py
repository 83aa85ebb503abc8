"""A change of cars, watched: what it does to their dates is told in the same transaction."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

from api.bridge.store import vehicles
from api.notices import dates, due_soon, store
from api.webhooks import outbox

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date

    from sqlmodel import Session

    from api.notices.dates import Because

_WATCHED = "notices of cars that are being changed"


@contextmanager
def telling(
    session: Session, fleet_id: str, vehicle_ids: Sequence[str], today: date, because: Because = "records"
) -> Iterator[None]:
    """Tell what the block does to cars' dates, if anybody wants to know; within another such block, the outer one tells.

    Args:
        session: a session that writes.
        fleet_id: whose cars.
        vehicle_ids: which cars.
        today: the day in the fleet's zone.
        because: why dates change.
    """
    if _WATCHED in session.info or not outbox.wanted(session, fleet_id) & {dates.KIND, *due_soon.KINDS}:
        yield
        return
    session.info[_WATCHED] = True
    try:
        before = store.dates(session, fleet_id, vehicle_ids)
        cars = {row.id: row for row in vehicles(session, fleet_id, vehicle_ids)}
        yield
        session.flush()
        changed = dates.differing(before, store.dates(session, fleet_id, vehicle_ids))
        dates.tell(session, fleet_id, [cars[car] for car in sorted(changed)], because)
        due_soon.compare(session, fleet_id, today, vehicle_ids)
    finally:
        del session.info[_WATCHED]
