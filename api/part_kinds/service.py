"""Rules for part kinds: settings that make sense, changed terms applied by a job, lives shown."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from api import jobs
from api.bridge.in_force.terms import terms_of
from api.bridge.learning import refits
from api.part_kinds import store
from api.problems import Conflict, Malformed, NotFound
from api.storage import dialect
from api.storage.tables import KindSettings
from planner.catalogue import load_catalogue
from planner.errors import UnknownPartKind

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.bridge.in_force.terms import Terms
    from api.part_kinds.schemas import KindSettingsPut
    from api.security import Principal
    from api.storage.tables import Job
    from planner.catalogue import PartKind

REFIT = "refit"
APPLY_TERMS = "apply terms"

jobs.register(REFIT, refits.refit)
jobs.register(APPLY_TERMS, refits.apply_terms)


def put_settings(
    session: Session, who: Principal, kind: PartKind, body: KindSettingsPut, row: KindSettings | None
) -> tuple[KindSettings, Job | None]:
    """Replace a fleet's settings for a kind.

    Returns:
        The settings, and the job that applies changed terms; None where costs and limits are as before.

    Raises:
        Malformed: a risk limit that even a new part does not meet.
        Conflict: the same, where one of the two figures is the catalogue's; or a clock that the kind does not have.
    """
    before = terms_of(kind, row)
    _refuse_strange_clocks(kind, body)
    values = _columns(body)
    if row is None:
        row = KindSettings(fleet_id=who.fleet_id, kind=kind.id, **values)
    else:
        row.sqlmodel_update(values)
    after = terms_of(kind, row)
    _refuse_hopeless_risk(after, body)
    session.add(row)
    session.flush()
    same = (after.fingerprint, after.own_fault) == (before.fingerprint, before.own_fault)
    if same or store.current_life(session, who.fleet_id, kind.id) is None:
        return row, None
    return row, jobs.enqueue(session, who.fleet_id, kind=APPLY_TERMS, payload={"kind": kind.id})


def held_settings(session: Session, fleet_id: str, kind: str) -> KindSettings | None:
    """The fleet's settings for a kind, held; of two who set the first ones the second waits."""
    dialect.wait_for_turn(session, f"settings {fleet_id} {kind}")
    return store.settings_for_change(session, fleet_id, kind)


def ask_for_refit(session: Session, who: Principal, kind: PartKind) -> Job:
    """Queue a refit of a kind from all of the fleet's records."""
    return jobs.enqueue(session, who.fleet_id, kind=REFIT, payload={"kind": kind.id})


def found_kind(name: str) -> PartKind:
    """A part kind by the id in an address.

    Raises:
        NotFound: the catalogue holds none of that id; names the nearest ones.
    """
    try:
        return load_catalogue()[name]
    except UnknownPartKind as error:
        raise NotFound(f"wanted {error.wanted}") from error


def _refuse_strange_clocks(kind: PartKind, body: KindSettingsPut) -> None:
    strange = [clock for clock in body.clocks or () if clock not in kind.clocks]
    if strange:
        raise Conflict(
            f"{kind.id} has no clock {' and no '.join(strange)}: by the catalogue it wears by {' and '.join(kind.clocks)}",
            field="clocks",
        )


def _refuse_hopeless_risk(terms: Terms, body: KindSettingsPut) -> None:
    """Refuse a risk limit that even a new part does not meet; one of the two figures may be the catalogue's."""
    fault = terms.costs.new_part_fault
    if terms.max_risk is None or terms.max_risk > fault:
        return
    if body.max_risk is not None and body.new_part_fault is not None:
        raise Malformed("max_risk", f"more than new_part_fault ({fault:g})", body.max_risk)
    field = "new_part_fault" if body.max_risk is None else "max_risk"
    raise Conflict(
        f"{field}: the accepted risk ({terms.max_risk:g}) must be more than the chance of a bad new part ({fault:g}); one "
        f"of the two is the catalogue's",
        field=field,
    )


def _columns(body: KindSettingsPut) -> dict[str, Any]:
    cap = body.cap
    distance = None if cap is None else cap.distance
    return {
        "prior": body.prior,
        "clocks": body.clocks,
        "planned": None if body.costs is None else body.costs.planned,
        "failure": None if body.costs is None else body.costs.failure,
        "new_part_fault": body.new_part_fault,
        "cap_value": None if distance is None else distance.value,
        "cap_unit": None if distance is None else distance.unit,
        "cap_years": None if cap is None else cap.years,
        "max_risk": body.max_risk,
        "check_cost": None if body.checking is None else body.checking.cost,
        "delay_share": None if body.checking is None else body.checking.delay_share,
        "check_sensitivity": None if body.checking is None else body.checking.sensitivity,
    }
