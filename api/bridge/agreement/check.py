"""Records that contradict the others of their car, as the planner sees it: each found in the order in which they were sent."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from api.bridge import gather, store
from api.bridge.gather import Events
from api.storage.tables import Inspection, Removal, Repair
from planner.errors import RecordError
from planner.history.timeline import timeline

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence
    from datetime import date

    from sqlmodel import Session

    from api.bridge.gather import Car
    from api.storage.tables import Fitment, OdometerReading, Vehicle
    from api.storage.tables.base import Record

RowT = TypeVar("RowT", bound="Record")

Changes = dict[str, dict[str, Any]]
"""Columns that are to change, by the id of the record."""


class Contradiction(NamedTuple):
    """A record at odds with the others of its car.

    Attributes:
        record_id: which.
        error: how, as the planner says it.
    """

    record_id: str
    error: RecordError


@dataclass(frozen=True)
class _Rows:
    """The rows of one car.

    Attributes:
        new: ids of those that are new or changed, in the order in which they were sent.
        before: changed rows as they were, by id.
    """

    vehicle: Vehicle
    readings: list[OdometerReading]
    fitments: list[Fitment]
    events: Events
    new: list[str]
    before: dict[str, Any]

    def without(self, left_out: Collection[str]) -> Car:
        """The car without some of its new rows; changed ones as they were before."""

        def kept(rows: Sequence[RowT]) -> list[RowT]:
            if not left_out:
                return list(rows)
            some = (self.before.get(row.id) if row.id in left_out else row for row in rows)
            return [row for row in some if row is not None]

        ours = [row.id for row in self.fitments]
        inspections, repairs, removals = (
            _Missing({fitment: kept(group[fitment]) for fitment in ours})
            for group in (self.events.inspections, self.events.repairs, self.events.removals)
        )
        events = Events(inspections, repairs, removals)
        return gather.assembled(self.vehicle, kept(self.readings), kept(self.fitments), events)


class _Missing(dict[str, list[Any]]):
    """Rows by fitment; a fitment without any has none."""

    def __missing__(self, key: str) -> list[Any]:
        return []


def contradictions(
    session: Session,
    fleet_id: str,
    vehicle_ids: Collection[str],
    today: date,
    *,
    number: Callable[[str], int | None],
    changes: Changes,
) -> list[Contradiction]:
    """Records among new ones that contradict the others of their car, each found in the order in which they were sent.

    Args:
        session: a session that reads and sees the new records; what it holds is let go.
        fleet_id: whose cars.
        vehicle_ids: which cars.
        today: no record may be later.
        number: place of a new record in that order by its id; None: it is no new one.
        changes: columns of stored records that are to change; those records count as new.
    """
    found: list[Contradiction] = []
    for rows in _rows_of(session, fleet_id, vehicle_ids, number, changes):
        found += _of_one(rows, today)
    return found


def _rows_of(
    session: Session,
    fleet_id: str,
    ids: Collection[str],
    number: Callable[[str], int | None],
    changes: Changes,
) -> list[_Rows]:
    vehicles = store.vehicles(session, fleet_id, ids)
    readings = store.readings(session, fleet_id, ids)
    fitments = store.fitments(session, fleet_id, ids)
    events: list[list[Any]] = [
        list(store.events(session, Inspection, fleet_id, ids)),
        list(store.events(session, Repair, fleet_id, ids)),
        list(store.events(session, Removal, fleet_id, ids)),
    ]
    session.expunge_all()
    car_of = {row.id: row.vehicle_id for row in fitments}
    owned: list[tuple[Any, str]] = [(row, row.id) for row in vehicles]
    owned += [(row, row.vehicle_id) for row in readings]
    owned += [(row, row.vehicle_id) for row in fitments]
    owned += [(row, car_of[row.fitment_id]) for some in events for row in some]
    new: dict[str, list[tuple[int, str]]] = {}
    before: dict[str, Any] = {}
    for row, car in owned:
        place = number(row.id)
        if place is not None:
            new.setdefault(car, []).append((place, row.id))
        if row.id in changes:
            before[row.id] = type(row)(**row.model_dump())
            row.sqlmodel_update(changes[row.id])
    grouped = Events(*(_Missing(gather.grouped(some, "fitment_id")) for some in events))
    by_car, fitted = gather.grouped(readings, "vehicle_id"), gather.grouped(fitments, "vehicle_id")
    return [
        _Rows(
            vehicle=row,
            readings=by_car[row.id],
            fitments=fitted[row.id],
            events=grouped,
            new=[one for _, one in sorted(new.get(row.id, []))],
            before=before,
        )
        for row in vehicles
    ]


def _of_one(rows: _Rows, today: date) -> list[Contradiction]:
    """The records at fault of one car: the first with which the ones before it cannot stand, then on without it."""
    found: list[Contradiction] = []
    left_out: set[str] = set()
    rest = rows.new
    while rest and (error := _at_odds(rows, left_out, today)) is not None:
        low, high = (
            0,
            len(rest),
        )  # the first `low` of the rest can stand with what came before, the first `high` cannot
        while high - low > 1:
            middle = (low + high) // 2
            trial = _at_odds(rows, left_out | set(rest[middle:]), today)
            if trial is None:
                low = middle
            else:
                high, error = middle, trial
        if low == 0 and _at_odds(rows, left_out | set(rest), today) is not None:
            return found  # what was stored before is at odds with itself
        found.append(Contradiction(rest[high - 1], error))
        left_out.add(rest[high - 1])
        rest = rest[high:]
    return found


def _at_odds(rows: _Rows, left_out: set[str], today: date) -> RecordError | None:
    """How a car's records contradict each other without some of them; None: they do not."""
    new = set(rows.new) - left_out
    try:
        car = rows.without(left_out)
        if rows.vehicle.id in left_out:
            return None
        for part in car.parts:
            if part.row.id in new or _events_of(rows, part.row.id) & new:
                timeline(part.history, today)
    except RecordError as error:
        return error
    return None


def _events_of(rows: _Rows, fitment_id: str) -> set[str]:
    groups = (rows.events.inspections, rows.events.repairs, rows.events.removals)
    return {row.id for group in groups for row in group[fitment_id]}
