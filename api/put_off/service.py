"""Rules for putting work off: a reason is needed, no limit moves, and the decision stays in sight."""

from __future__ import annotations

from typing import TYPE_CHECKING

from api.bridge.forecasts.decisions import seen, snooze_of
from api.bridge.forecasts.outlook import outlooks
from api.external_refs import refuse_taken
from api.history.lookups import found_fitment, held_fitment
from api.problems import Conflict, Malformed, NotFound
from api.put_off import store
from api.put_off.schemas import PutOffOut
from api.schedules.answers import minded
from api.storage.tables import PutOff
from api.storage.types import utc_now
from planner.catalogue import load_catalogue

if TYPE_CHECKING:
    from datetime import date

    from sqlmodel import Session

    from api.put_off.schemas import PutOffCreate
    from api.security import Principal
    from api.storage.tables import Forecast
    from planner.catalogue import PartKind

_PLAIN = ("fitment_id", "until", "reason", "decided_on", "external_ref")


def put_off(session: Session, who: Principal, fitment_id: str, body: PutOffCreate) -> PutOffOut:
    """Keep a decision; it replaces an earlier one about the same part.

    Raises:
        NotFound: no such fitment in this fleet.
        Malformed: the day is past.
        Conflict: the part is off the car, or the ``external_ref`` is taken.
    """
    held_fitment(session, who.fleet_id, fitment_id)
    if body.until is not None and body.until < who.today():
        raise Malformed("until", f"a day from {who.today()} on, or null", body.until)
    forecast = store.forecast(session, who.fleet_id, fitment_id)
    if forecast is None:
        raise Conflict("the part is off the car: there is nothing to put off", field="fitment_id")
    row = store.decision(session, who.fleet_id, fitment_id)
    named = None if row is None else row.external_ref
    refuse_taken(session, PutOff, who.fleet_id, body.external_ref, now=named)
    values = {**body.model_dump(), "decided_on": who.today()}
    if row is None:
        row = PutOff(fleet_id=who.fleet_id, fitment_id=fitment_id, **values)
    else:
        row.sqlmodel_update(values)
    session.add(row)
    session.flush()
    return _shown(session, row, _kind(session, who, fitment_id), forecast, who.today())


def read(session: Session, who: Principal, fitment_id: str, as_of: date) -> PutOffOut:
    """The decision that stands about a part.

    Raises:
        NotFound: no such fitment, or nothing was decided.
    """
    kind = _kind(session, who, fitment_id)
    row = _found(session, who.fleet_id, fitment_id)
    return _shown(session, row, kind, store.forecast(session, who.fleet_id, fitment_id), as_of)


def take_back(session: Session, who: Principal, fitment_id: str) -> None:
    """Take a decision back: the part is due as if it had never been put off.

    Raises:
        NotFound: no such fitment, or nothing was decided.
    """
    held_fitment(session, who.fleet_id, fitment_id)
    session.delete(_found(session, who.fleet_id, fitment_id))
    forecast = store.forecast(session, who.fleet_id, fitment_id)
    if forecast is not None:
        forecast.updated_at = utc_now()  # the day has moved: calendars count it as a revision
    session.flush()


def _found(session: Session, fleet_id: str, fitment_id: str) -> PutOff:
    row = store.decision(session, fleet_id, fitment_id)
    if row is None:
        raise NotFound("nothing was put off here")
    return row


def _kind(session: Session, who: Principal, fitment_id: str) -> PartKind:
    return load_catalogue()[found_fitment(session, who.fleet_id, fitment_id).kind]


def _shown(
    session: Session, row: PutOff, kind: PartKind, forecast: Forecast | None, as_of: date
) -> PutOffOut:
    plain = {name: getattr(row, name) for name in _PLAIN}
    plain |= {"kind": kind.id, "part": kind.name_gb, **minded(kind)}
    if forecast is None:
        off = {"accepted": snooze_of(row).accepted, "warning": None, "window": None, "status": None}
        return PutOffOut.model_validate({**plain, **off})
    (one,) = outlooks(session, [forecast], as_of)
    decided = seen(row, one, as_of)
    return PutOffOut.model_validate(
        {
            **plain,
            "accepted": decided.accepted,
            "warning": decided.warning or None,
            "window": decided.window,
            "status": decided.window.status,
        }
    )
