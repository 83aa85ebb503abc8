"""Background work on one kind of one fleet: fit its life anew, tabulate new terms, bring forecasts up to date."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, Self

from api.bridge import store
from api.bridge.behind import store as behind_store
from api.bridge.forecasts.bulk import bring_forward
from api.bridge.in_force import models, tables
from api.bridge.in_force.circumstances import in_each
from api.bridge.in_force.ready import make_ready
from api.bridge.in_force.terms import digest
from api.bridge.keep import replan
from api.bridge.learning import curves, repaired, shared
from api.bridge.learning.cars_differ import KEY as DIFFER
from api.bridge.learning.cars_differ import cars_differ
from api.bridge.learning.fitted import fitted
from api.bridge.learning.learn import FIT_DRAWS, FIT_SEED, fingerprint_of, learn
from api.bridge.learning.new_parts import new_parts
from api.fleets.store import discount_rate
from api.fleets.today import today_of
from api.notices import due_soon
from api.storage import dialect
from api.webhooks import outbox
from planner.catalogue import load_catalogue

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.bridge.in_force.models import Source
    from api.bridge.in_force.terms import Terms
    from api.bridge.learning.learn import Learnt
    from api.jobs import Sessions
    from api.notices.dates import Because
    from api.storage.tables import Job, LifeModel
    from planner.interval.tables import IntervalTable
    from planner.life.model import Life
    from planner.progress import Progress

NOTHING_CHANGED = "nothing has changed since the last fit, which stands"
NEW_FIT = "fitted anew"
SHARED = "shared"
"""Name under which a life's content says how many other fleets its prior rests on, rounded; null: the book's."""

CARS_IN_ONE_TRANSACTION = 10
"""So few that a transaction of the re-planning stays well under a second."""


def refit(sessions: Sessions, job: Job, payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Fit the life of a kind to the fleet's histories, put it in force and re-plan the cars that have the part.

    Where the records, the prior and the method are those of the life in force, nothing is fitted.

    Args:
        sessions: transactions.
        job: whose fleet.
        payload: {"kind": …}.
        progress: told how many cars are done.

    Returns:
        {"kind", "model_id", "source", "histories", "failures", "integrated_over", "shared_events", "left_out", "changed", "said",
        "cars_replanned", "shared"}; `integrated_over` counts parts whose day is not known.

    Raises:
        TooFewFailures, ClockNotIdentified, FitNotConverged: the data cannot carry the fit; the old life stays.
    """
    kind = str(payload["kind"])
    progress(0, 0, "reading the histories")
    with sessions.reading() as session:
        terms = _terms(session, job.fleet_id, kind)
        learnt = learn(session, job.fleet_id, kind, terms)
        before = _stands(session, job.fleet_id, kind)
        known = shared.others(session, job.fleet_id, kind, terms)
    fingerprint = fingerprint_of(kind, terms, learnt)
    if known is not None:
        fingerprint = digest([fingerprint, known.fingerprint])
    if before is not None and before.fingerprint == fingerprint:
        row, changed = before, False
    else:
        progress(0, 0, "fitting")
        row, changed = (
            _put_in_force(sessions, job.fleet_id, _Fit.of(kind, terms, learnt, fingerprint, known)),
            True,
        )
    cars = bring_up_to_date(sessions, job.fleet_id, kind, progress)
    return _said(row, learnt, known, changed=changed, cars=cars)


@dataclass(frozen=True)
class _Fit:
    """A new life with all that is stored beside it."""

    kind: str
    terms: Terms
    learnt: Learnt
    fingerprint: str
    life: Life
    source: Source
    table: IntervalTable
    beside: dict[str, Any]

    @classmethod
    def of(
        cls, kind: str, terms: Terms, learnt: Learnt, fingerprint: str, known: shared.Others | None
    ) -> Self:
        found = fitted(kind, terms, learnt, known)
        usual = learnt.on_usual_clocks(found.factors)
        beside: dict[str, Any] = {
            curves.KEY: curves.records_alone(usual.spells),
            models.COUNTS: learnt.counts,
            SHARED: None if known is None else known.counts,
        }
        if found.taught or found.by_book:
            beside[models.TAUGHT] = {name: one.to_json() for name, one in found.taught.items()}
            beside[models.BY_BOOK] = found.by_book
        faults = new_parts(kind, terms, usual.not_worse_from_new, found.life)
        if faults is not None:
            beside[models.NEW_PARTS] = asdict(faults)
            terms = terms.with_fault(faults.mean)
        differ = cars_differ(kind, terms, usual, seed=FIT_SEED, draws=FIT_DRAWS)
        if differ is not None:
            beside[DIFFER] = differ.to_json()
        if learnt.repairs:
            beside[repaired.KEY] = repaired.to_json(learnt.repairs)
        table = tables.make(found.life, terms)
        return cls(kind, terms, learnt, fingerprint, found.life, found.source, table, beside)


def _stands(session: Session, fleet_id: str, kind: str) -> LifeModel | None:
    """The life in force with its content read, or None."""
    row = store.current_models(session, fleet_id, [kind]).get(kind)
    if row is not None:
        models.life_of(row)
    return row


def _put_in_force(sessions: Sessions, fleet_id: str, fit: _Fit) -> LifeModel:
    """Store the life and its table; of two refits of the same records the second finds the first one's."""
    with sessions() as session:
        dialect.wait_for_turn(session, f"model {fleet_id} {fit.kind}")
        row = store.current_models(session, fleet_id, [fit.kind]).get(fit.kind)
        if row is None or row.fingerprint != fit.fingerprint:
            row = models.store_model(
                session,
                fleet_id,
                fit.kind,
                fit.life,
                source=fit.source,
                fingerprint=fit.fingerprint,
                left_out=fit.learnt.left_out,
            )
            row.content = {**row.content, **fit.beside}
            tables.keep(session, row, fit.terms, fit.table)
            _tell(session, row, fit.life)
        models.life_of(row)
        return row


def _tell(session: Session, row: LifeModel, life: Life) -> None:
    said = {
        "kind": row.kind,
        "model_id": row.id,
        "source": row.source,
        "histories": life.evidence.histories,
        "failures": life.evidence.failures,
        "life": f"/v1/part-kinds/{row.kind}/life",
    }
    outbox.tell(session, row.fleet_id, "model.changed", said)


def apply_terms(sessions: Sessions, job: Job, payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Tabulate the life in force on the fleet's present terms and re-plan the cars that have the part.

    Returns:
        {"kind", "cars_replanned"}.
    """
    kind = str(payload["kind"])
    progress(0, 0, "tabulating intervals")
    with sessions.reading() as session:
        row = _stands(session, job.fleet_id, kind)
        terms = _terms(session, job.fleet_id, kind, row)
    if row is None:
        return {"kind": kind, "cars_replanned": 0}
    table = tables.make(models.life_of(row), terms)
    with sessions() as session:
        dialect.wait_for_turn(session, f"model {job.fleet_id} {kind}")
        if store.interval_table(session, job.fleet_id, row.id, terms.fingerprint) is None:
            tables.keep(session, row, terms, table)
    return {
        "kind": kind,
        "cars_replanned": bring_up_to_date(sessions, job.fleet_id, kind, progress, "settings"),
    }


def bring_up_to_date(
    sessions: Sessions, fleet_id: str, kind: str, progress: Progress, because: Because = "model"
) -> int:
    """Re-plan every car whose forecast for this kind rests on a life or on terms no longer in force.

    What forecasts hold already is brought forward in bulk; cars that have none for the kind yet follow, a few cars a
    transaction. Requests get their turn; begun again after an interruption, it goes on with what is left.

    Returns:
        How many cars were re-planned.
    """
    done = bring_forward(sessions, fleet_id, kind, progress, because)
    while True:
        with sessions.reading() as reading:
            others = behind_store.circumstances_of(reading, fleet_id, kind)
        make_ready(sessions.database, fleet_id, [kind], [(kind, one) for one in others])
        with sessions() as session:
            today = today_of(session, fleet_id)
            rests = [
                behind_store.Rests(one.circumstances, one.model_id, one.terms.fingerprint)
                for one in in_each(session, fleet_id, kind, others)
            ]
            behind = behind_store.vehicles_behind(
                session, fleet_id, kind, rests=rests, limit=CARS_IN_ONE_TRANSACTION
            )
            store.hold_vehicles(session, fleet_id, behind)
            replan(session, fleet_id, behind, today, kinds=[kind], because=because)
        if not behind:
            due_soon.compare_fleet(sessions, fleet_id)
            return done
        done += len(behind)
        progress(done, 0, "cars re-planned")


def _said(
    row: LifeModel, learnt: Learnt, known: shared.Others | None, *, changed: bool, cars: int
) -> dict[str, Any]:
    evidence = models.life_of(row).evidence
    return {
        "kind": row.kind,
        "model_id": row.id,
        "source": row.source,
        "histories": evidence.histories,
        "failures": evidence.failures,
        **learnt.counts,
        "shared": None if known is None else known.counts,
        "left_out": len(learnt.left_out),
        "changed": changed,
        "said": NEW_FIT if changed else NOTHING_CHANGED,
        "cars_replanned": cars,
    }


def _terms(session: Session, fleet_id: str, kind: str, row: LifeModel | None = None) -> Terms:
    settings = store.settings(session, fleet_id, [kind]).get(kind)
    return models.terms_in_force(load_catalogue()[kind], settings, discount_rate(session, fleet_id), row)
