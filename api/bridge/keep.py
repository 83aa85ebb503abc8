"""Results into rows: how much each car is driven, and when each of its parts in service comes due.

A forecast row holds what does not depend on today: due days, and the coefficients from which clocks and chances
follow by arithmetic on whatever day is asked about. It is refreshed in the transaction that changes the car's
history, or by the job that changes a model.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from api.bridge import gather, store
from api.bridge.forecasts.car_interval import on_car, said_of
from api.bridge.forecasts.clocks import UNREPAIRED, counted, stand_in
from api.bridge.forecasts.coefficients import Coefficients
from api.bridge.forecasts.measured import on_path, seen
from api.bridge.forecasts.one_part import FOR_SALE, OwnCar, road_ahead, sold_ahead, worked_out
from api.bridge.in_force.circumstances import InCircumstances
from api.bridge.in_force.models import in_force
from api.bridge.records import km_of, planned_record
from api.bridge.words import interval_words, repairs_words
from api.notices.watch import telling
from api.planned_use.store import planned_by_car
from api.storage.tables import Forecast, VehicleUsage
from planner.history.findings import refuse_failure_undone
from planner.history.measurements import measured_wear
from planner.history.timeline import timeline
from planner.interval import Cap, shortest
from planner.usage import yearly_distance

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence
    from datetime import date

    from sqlmodel import Session

    from api.bridge.forecasts.clocks import Counted
    from api.bridge.forecasts.one_part import WorkedOut
    from api.bridge.gather import Car, Part
    from api.bridge.in_force.models import InForce
    from api.notices.dates import Because
    from api.storage.tables import OdometerReading
    from planner.units import DistanceUnit
    from planner.usage import Usage

NO_FIGURE = "no odometer figure was ever written: driven as much as such cars usually are"


def replan(
    session: Session,
    fleet_id: str,
    vehicle_ids: Sequence[str],
    today: date,
    *,
    checking: str | None = None,
    kinds: Collection[str] | None = None,
    because: Because = "records",
) -> None:
    """Bring the forecasts of cars up to date, in the caller's transaction.

    Args:
        session: a session that writes; it holds the cars already.
        fleet_id: whose cars.
        vehicle_ids: which cars.
        today: the day in the fleet's zone.
        checking: a fitment whose history must be free of contradictions even if it is no longer in service.
        kinds: only parts of these kinds, where the cars' own histories have not changed; None: everything.
        because: told to other systems where dates change.

    Raises:
        RecordError: two records contradict each other, naming the field.
    """
    with telling(session, fleet_id, vehicle_ids, today, because):
        _replan(session, fleet_id, vehicle_ids, today, checking, kinds)


def _replan(
    session: Session,
    fleet_id: str,
    vehicle_ids: Sequence[str],
    today: date,
    checking: str | None,
    kinds: Collection[str] | None,
) -> None:
    cars = gather.cars(session, fleet_id, vehicle_ids)
    wanted = {
        part.row.kind for car in cars for part in car.in_service if kinds is None or part.row.kind in kinds
    }
    lives = InCircumstances(session, fleet_id, in_force(session, fleet_id, wanted))
    usages = store.usage(session, fleet_id, vehicle_ids)
    forecasts = store.forecasts(session, fleet_id, vehicle_ids)
    plans = planned_by_car(session, fleet_id, vehicle_ids)
    for car in cars:
        _check(car, checking, today)
        track = car.track or stand_in(today)
        ahead = road_ahead([planned_record(row) for row in plans.get(car.row.id, ())])
        usage = yearly_distance(track, today, ahead=ahead)
        if kinds is None:
            _keep_totals(session, car)
            _keep_usage(session, car, usage, usages.get(car.row.id))
        parts = [part for part in car.in_service if part.row.kind in wanted]
        for part in parts:
            row = forecasts.pop(part.row.id, None)
            own = lives.of(part.row.kind, car.row.circumstances, part.row.grade)
            since = counted(part.history, track, today, own.repairs)
            _keep_forecast(session, part, since, usage, own, row, car.row.sell_on)
    if kinds is None:
        store.drop_forecasts(session, fleet_id, list(forecasts))
    session.flush()


def _check(car: Car, fitment_id: str | None, today: date) -> None:
    if fitment_id is not None and any(part.row.id == fitment_id for part in car.parts):
        history = car.part(fitment_id).history
        refuse_failure_undone(timeline(history, today))
        measured_wear(history, "distance", today)


def _keep_totals(session: Session, car: Car) -> None:
    """Write the true distance beside each reading, where it is new or another reading has changed it."""
    if car.track is None:
        return
    totals = {(p.on, round(p.km - p.offset_km, 3)): p.km for p in car.track.points}
    for row in car.readings:
        total = totals.get((row.read_on, round(_shown_km(row), 3)), row.km_total)
        if abs(total - row.km_total) > 1e-6:
            row.km_total = total
            session.add(row)


def _shown_km(row: OdometerReading) -> float:
    km = km_of(row.reading_value, row.reading_unit)
    return 0.0 if km is None else km


def _keep_usage(session: Session, car: Car, usage: Usage, row: VehicleUsage | None) -> None:
    known = car.track is not None
    values: dict[str, Any] = {
        "km_per_year": usage.km_per_year,
        "low": usage.low,
        "high": usage.high,
        "as_of": usage.as_of,
        "km_at_as_of": usage.km_at_as_of if known else None,
        "basis": usage.basis if known else NO_FIGURE,
    }
    if row is None:
        row = VehicleUsage(fleet_id=car.row.fleet_id, vehicle_id=car.row.id, **values)
    else:
        row.sqlmodel_update(values)
    session.add(row)


def _keep_forecast(
    session: Session,
    part: Part,
    since: Counted,
    usage: Usage,
    force: InForce,
    row: Forecast | None,
    sell_on: date | None,
) -> None:
    limit = Cap(km=part.history.fitment.cap_km, years=part.history.fitment.cap_years)
    cap = shortest(force.terms.cap, limit)
    unit = part.history.vehicle.distance_unit
    found = seen(part.history, force.kind, usage.as_of)
    if found is not None:
        since = replace(since, set_back=UNREPAIRED)  # what was measured tells its wear
    if found is not None and found.passed_on is not None and since.found_bad is None:
        since = replace(since, found_bad=found.passed_on, finding="worn to limit")
    mark = None if found is None else found.mark
    if (
        row is not None
        and (row.model_id, row.circumstances, row.as_of) == (force.model_id, force.circumstances, usage.as_of)
        and Coefficients.from_json(row.coefficients).rests_on(since, usage, force, cap, unit, mark, sell_on)
    ):
        return
    own = None if found is None or since.age_unknown else on_path(found, force, unit)
    values = forecast(since, usage, on_car(force, part.row.vehicle_id), cap, unit, OwnCar(sell_on, own))
    values |= {
        "kind": part.row.kind,
        "model_id": force.model_id,
        "circumstances": force.circumstances,
    }
    if row is None:
        fitted = part.row
        row = Forecast(fleet_id=fitted.fleet_id, fitment_id=fitted.id, vehicle_id=fitted.vehicle_id, **values)
    else:
        row.sqlmodel_update(values)
    session.add(row)


def forecast(
    since: Counted, usage: Usage, force: InForce, cap: Cap, unit: DistanceUnit, its: OwnCar
) -> dict[str, Any]:
    """The columns of a forecast that are worked out."""
    found = worked_out(since, usage, force, cap, its)
    due = found.due
    said = _reason(found, usage, force, unit, its) + repairs_words(since, unit)
    return {
        "due_earliest": due.earliest,
        "due_likely": due.likely,
        "due_latest": due.latest,
        "decides": due.decides if since.found_bad is None else "inspection",
        "run_to_failure": due.likely is None,
        "as_of": usage.as_of,
        "reason": said,
        "coefficients": Coefficients.of(
            since, usage, found, force, cap, unit, its.path, its.sell_on
        ).to_json(),
    }


def _reason(found: WorkedOut, usage: Usage, force: InForce, unit: DistanceUnit, its: OwnCar) -> str:
    said = said_of(force) + interval_words(found.interval, force.life.clocks, unit)
    if its.path is not None:
        return f"{its.path.words} {said}"
    if its.sell_on is None or force.kind.safety or not sold_ahead(its.sell_on, usage.as_of):
        return said
    return f"{FOR_SALE.format(day=its.sell_on.isoformat())} {said}"
