"""Background work on one kind of one fleet: fit its life anew, tabulate new terms, bring forecasts up to date."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from api.bridge import curves, gather, models, store
from api.bridge.bulk import bring_forward
from api.bridge.keep import replan
from api.bridge.models import LIFE_SCHEMA, Source
from api.bridge.terms import Terms, digest, terms_of
from api.storage import dialect
from planner.catalogue import load_catalogue
from planner.errors import TooFewFailures
from planner.history.conversion import spells_from
from planner.history.spells import Spells
from planner.life.fit import fit_life
from planner.life.prior import book_prior

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.jobs import Sessions
    from api.storage.tables import Job
    from planner.history.conversion import LeftOut
    from planner.life.model import Life
    from planner.progress import Progress

FIT_SEED = 1
FIT_DRAWS = 400
CARS_IN_ONE_TRANSACTION = 10
"""So few that a transaction of the re-planning stays well under a second."""


@dataclass(frozen=True)
class Learnt:
    """What the fleet's histories of one kind give.

    Attributes:
        spells: the life data; None where no history gave a row.
        left_out: what gave no row, and why.
        today: the day on which the histories were read, in the fleet's zone.
    """

    spells: Spells | None
    left_out: tuple[LeftOut, ...]
    today: date


def refit(sessions: Sessions, job: Job, payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Fit the life of a kind to the fleet's histories, put it in force and re-plan the cars that have the part.

    Args:
        sessions: transactions.
        job: whose fleet.
        payload: {"kind": …}.
        progress: told how many cars are done.

    Returns:
        {"kind", "model_id", "source", "histories", "failures", "left_out", "changed", "cars_replanned"}.

    Raises:
        TooFewFailures, ClockNotIdentified, FitNotConverged: the data cannot carry the fit; the old life stays.
    """
    kind = str(payload["kind"])
    progress(0, 0, "reading the histories")
    with sessions.reading() as session:
        terms = _terms(session, job.fleet_id, kind)
        learnt = learn(session, job.fleet_id, kind, terms)
    progress(0, 0, "fitting")
    life, source = _fitted(kind, terms, learnt)
    table = models.make_table(life, terms)
    fingerprint = _fingerprint(kind, terms, learnt)
    alone = curves.records_alone(learnt.spells)
    with sessions() as session:
        dialect.wait_for_turn(session, f"model {job.fleet_id} {kind}")
        row = store.current_models(session, job.fleet_id, [kind]).get(kind)
        changed = row is None or row.fingerprint != fingerprint
        if row is None or changed:
            row = models.store_model(
                session,
                job.fleet_id,
                kind,
                life,
                source=source,
                fingerprint=fingerprint,
                left_out=learnt.left_out,
            )
            row.content = {**row.content, curves.KEY: alone}
            models.store_table(session, row, terms, table)
    cars = bring_up_to_date(sessions, job.fleet_id, kind, progress)
    return {
        "kind": kind,
        "model_id": row.id,
        "source": source,
        "histories": life.evidence.histories,
        "failures": life.evidence.failures,
        "left_out": len(learnt.left_out),
        "changed": changed,
        "cars_replanned": cars,
    }


def apply_terms(sessions: Sessions, job: Job, payload: dict[str, Any], progress: Progress) -> dict[str, Any]:
    """Tabulate the life in force on the fleet's present terms and re-plan the cars that have the part.

    Returns:
        {"kind", "cars_replanned"}.
    """
    kind = str(payload["kind"])
    progress(0, 0, "tabulating intervals")
    with sessions.reading() as session:
        terms = _terms(session, job.fleet_id, kind)
        row = store.current_models(session, job.fleet_id, [kind]).get(kind)
    if row is None:
        return {"kind": kind, "cars_replanned": 0}
    table = models.make_table(models.life_of(row), terms)
    with sessions() as session:
        dialect.wait_for_turn(session, f"model {job.fleet_id} {kind}")
        if store.interval_table(session, job.fleet_id, row.id, terms.fingerprint) is None:
            models.store_table(session, row, terms, table)
    return {"kind": kind, "cars_replanned": bring_up_to_date(sessions, job.fleet_id, kind, progress)}


def learn(session: Session, fleet_id: str, kind: str, terms: Terms) -> Learnt:
    """Turn every history of a kind in the fleet into spells, some cars at a time."""
    today = _today(session, fleet_id)
    spells: list[Spells] = []
    left_out: list[LeftOut] = []
    for batch in gather.histories(session, fleet_id, kind):
        found = spells_from(batch, terms.clocks, today, contradictions="leave out")
        left_out.extend(found.left_out)
        if found.spells is not None:
            spells.append(found.spells)
    return Learnt(Spells.concat(spells).in_order() if spells else None, tuple(left_out), today)


def bring_up_to_date(sessions: Sessions, fleet_id: str, kind: str, progress: Progress) -> int:
    """Re-plan every car whose forecast for this kind rests on a life or on terms no longer in force.

    What forecasts hold already is brought forward in bulk; cars that have none for the kind yet follow, a few cars a
    transaction. Requests get their turn; begun again after an interruption, it goes on with what is left.

    Returns:
        How many cars were re-planned.
    """
    done = bring_forward(sessions, fleet_id, kind, progress)
    while True:
        with sessions() as session:
            today = _today(session, fleet_id)
            force = models.in_force(session, fleet_id, [kind])[kind]
            behind = store.vehicles_behind(
                session,
                fleet_id,
                kind,
                model_id=force.model_id,
                table=force.terms.fingerprint,
                limit=CARS_IN_ONE_TRANSACTION,
            )
            store.hold_vehicles(session, fleet_id, behind)
            replan(session, fleet_id, behind, today, kinds=[kind])
        if not behind:
            return done
        done += len(behind)
        progress(done, 0, "cars re-planned")


def _fitted(kind: str, terms: Terms, learnt: Learnt) -> tuple[Life, Source]:
    entry = load_catalogue()[kind]
    if learnt.spells is None and terms.prior == "none":
        raise TooFewFailures("no history of this kind can be used: without a prior there is nothing to fit")
    if learnt.spells is None:
        return models.book_life_of(kind, terms.clocks), "book"
    prior = book_prior(entry, terms.clocks) if terms.prior == "book" else None
    return fit_life(learnt.spells, prior, seed=FIT_SEED, draws=FIT_DRAWS), "fitted"


def _fingerprint(kind: str, terms: Terms, learnt: Learnt) -> str:
    """Of everything that the life is made from."""
    if learnt.spells is None:
        return models.book_fingerprint(kind, terms.clocks)
    prior = models.book_fingerprint(kind, terms.clocks) if terms.prior == "book" else None
    columns = [part.tolist() for b in learnt.spells.bounds for part in (b.entry, b.lower, b.upper)]
    rates = None if learnt.spells.km_per_year is None else learnt.spells.km_per_year.tolist()
    left_out = [[one.ref, one.reason] for one in learnt.left_out]
    return digest(
        [
            kind,
            terms.clocks,
            prior,
            columns,
            rates,
            learnt.spells.weight.tolist(),
            left_out,
            FIT_SEED,
            LIFE_SCHEMA,
        ]
    )


def _terms(session: Session, fleet_id: str, kind: str) -> Terms:
    return terms_of(load_catalogue()[kind], store.settings(session, fleet_id, [kind]).get(kind))


def _today(session: Session, fleet_id: str) -> date:
    return datetime.now(ZoneInfo(store.time_zone(session, fleet_id))).date()
