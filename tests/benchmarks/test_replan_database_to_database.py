"""Replanning a fleet from rows to rows, against bulk-writing the same forecast rows with nothing computed."""

import statistics
import time
from datetime import date, timedelta

import numpy as np
import pytest
from sqlalchemy import insert

from api.bridge import store
from api.bridge.behind import store as behind
from api.bridge.forecasts import bulk
from api.bridge.in_force import models, tables
from api.bridge.in_force.terms import terms_of
from api.jobs import Sessions
from api.storage import schema
from api.storage.session import writing
from api.storage.tables import Fitment, Fleet, Forecast, KindSettings, Vehicle
from api.storage.types import new_id
from planner.catalogue import load_catalogue
from tests.api.support import fresh_database

pytestmark = pytest.mark.bench

PARTS = 40_000
KIND = "v_belt"
TODAY = date(2026, 10, 1)
TARGET = 1.6


@pytest.fixture
def database(tmp_path):
    with fresh_database(tmp_path) as found:
        schema.migrate(found)
        yield found


def coefficients(rng, table):
    """What a forecast of a part keeps."""
    fitted = TODAY - timedelta(days=int(rng.integers(100, 5_000)))
    km, rate = float(rng.uniform(20_000, 150_000)), float(np.exp(rng.normal(np.log(1_400), 0.9)))
    ran = rate * (TODAY - fitted).days / 365.25
    plain = dict.fromkeys(
        ("limit", "interval_km", "interval_years", "bound_by", "cost_per_year", "cost_run_to_failure", "planned",
         "failure", "own_costs", "new_part_fault", "cap_km", "cap_years"), None
    )  # fmt: skip
    since = {
        "days": [(fitted + timedelta(days=days)).isoformat() for days in (-15, 0, 15)],
        "km": [km - ran - 50, km - ran, km - ran + 50],
        "age_unknown": bool(rng.random() < 0.2),
        "found_bad": None,
        "finding": None,
    }
    return plain | {
        "since": since, "odometer_km": km, "km_per_year": rate, "km_per_year_range": [0.6 * rate, 1.6 * rate],
        "unit": "mi" if rng.random() < 0.5 else "km", "table": table,
    }  # fmt: skip


def fill(database):
    """A fleet of 40,000 belts, one a car; its id."""
    rng = np.random.default_rng(0)
    tables.of_book(KIND, terms_of(load_catalogue()[KIND], None))
    with writing(database) as session:
        fleet = Fleet(name="large")
        session.add(fleet)
        session.flush()
        force = models.in_force(session, fleet.id, [KIND])[KIND]
        cars, parts = [new_id() for _ in range(PARTS)], [new_id() for _ in range(PARTS)]
        stamp = {"fleet_id": fleet.id}
        session.execute(
            insert(Vehicle), [{**stamp, "id": one, "name": "car", "distance_unit": "km"} for one in cars]
        )
        fitted = [
            {**stamp, "id": part, "vehicle_id": one, "kind": KIND}
            for part, one in zip(parts, cars, strict=True)
        ]
        session.execute(insert(Fitment), fitted)
        forecasts = [
            {**stamp, "id": new_id(), "fitment_id": part, "vehicle_id": one, "model_id": force.model_id, "kind": KIND,
             "decides": "age", "as_of": TODAY, "reason": "", "coefficients": coefficients(rng, "before")}
            for part, one in zip(parts, cars, strict=True)
        ]  # fmt: skip
        session.execute(insert(Forecast), forecasts)
        return fleet.id


def change_terms(database, fleet_id, planned):
    """New costs, so that every forecast is behind; the table for them is there, as the job makes it first."""
    with writing(database) as session:
        row = store.settings(session, fleet_id, [KIND]).get(KIND) or KindSettings(
            fleet_id=fleet_id, kind=KIND
        )
        row.planned, row.failure = planned, 600.0
        session.add(row)
        session.flush()
        models.in_force(session, fleet_id, [KIND])


def replanned(database, fleet_id):
    """Seconds from rows to rows."""
    start = time.perf_counter()
    assert bulk.bring_forward(Sessions(database), fleet_id, KIND, lambda *_: None) == PARTS
    return time.perf_counter() - start


def written(database, rows):
    """Seconds of writing the rows in transactions of the same size."""
    start = time.perf_counter()
    for first in range(0, len(rows), bulk.ROWS_IN_ONE_TRANSACTION):
        with writing(database) as session:
            behind.write_forecasts(session, rows[first : first + bulk.ROWS_IN_ONE_TRANSACTION])
    return time.perf_counter() - start


def rows_of(database, fleet_id):
    """The same rows, worked out beforehand."""
    with writing(database) as session:
        force = models.in_force(session, fleet_id, [KIND])[KIND]
        found = behind.forecasts_behind(
            session,
            fleet_id,
            KIND,
            model_id=force.model_id,
            table=force.terms.fingerprint,
            apart=[],
            at_once=PARTS,
        )
        (rows,) = found
        return bulk.forecasts(rows, force, {}, {})


def test_rows_to_rows_takes_at_most_1_6_times_the_writing(database):
    fleet_id = fill(database)
    ratios, speeds = [], []
    for turn in range(3):
        change_terms(database, fleet_id, 20.0 + 20 * turn)
        whole = replanned(database, fleet_id)
        change_terms(
            database, fleet_id, 30.0 + 20 * turn
        )  # the peer too writes days that differ from what stands there
        alone = written(database, rows_of(database, fleet_id))
        ratios.append(whole / alone)
        speeds.append(PARTS / whole)
    print(
        f"rows to rows in {statistics.median(ratios):.2f} times the time of writing them alone "
        f"({statistics.median(speeds):,.0f} parts a second; target: {TARGET})"
    )
    assert statistics.median(ratios) <= TARGET
