"""A digest, and its mail with the calendar: 10,000 cars against 1,000 with the same number of parts due."""

import statistics
import time
import tracemalloc
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from sqlalchemy import insert

from api.bridge.in_force import models
from api.calendar.entries import entries
from api.calendar.feed import written
from api.digests.content import content
from api.digests.schemas import DigestOut
from api.mail.message import message
from api.security import Principal
from api.storage import schema
from api.storage.session import reading, writing
from api.storage.tables import Fitment, Fleet, Forecast, OdometerReading, Vehicle, VehicleUsage
from api.storage.types import new_id
from tests.api.support import fresh_database
from tests.benchmarks.test_replan_database_to_database import coefficients

pytestmark = pytest.mark.bench

AS_OF = date(2026, 11, 23)
KIND = "v_belt"
PARTS_A_CAR = 2
DUE = 600
"""Parts due within two years, in either fleet: 150 for longer, 100 since last week, 100 soon, 250 later."""
LARGE, SMALL = 10_000, 1_000
TARGET = 1.3
"""Of the time, and of the peak of memory: near 1, with room for the noise of a busy machine."""


def days_due(rng):
    """Likely days of the parts that are due."""
    stretches = ((-400, -8, 150), (-6, 0, 100), (1, 28, 100), (30, 700, 250))
    return [
        AS_OF + timedelta(days=int(rng.integers(low, high + 1)))
        for low, high, n in stretches
        for _ in range(n)
    ]


def fill(database, cars):
    """A fleet with so many cars, of which as many parts are due as in any other; whoever asks."""
    rng = np.random.default_rng(7)
    with writing(database) as session:
        fleet = Fleet(name=f"{cars} cars")
        session.add(fleet)
        session.flush()
        stamp = {"fleet_id": fleet.id}
        force = models.in_force(session, fleet.id, [KIND])[KIND]
        ids = [new_id() for _ in range(cars)]
        session.execute(insert(Vehicle), [{**stamp, "id": one, "name": f"car {n}", "distance_unit": "km"} for n, one in enumerate(ids)])  # fmt: skip
        session.execute(insert(OdometerReading), [
            {**stamp, "id": new_id(), "vehicle_id": one, "read_on": AS_OF - timedelta(days=200), "reading_value": 50_000.0,
             "reading_unit": "km", "km_total": 50_000.0} for one in ids
        ])  # fmt: skip
        session.execute(insert(VehicleUsage), [
            {**stamp, "id": new_id(), "vehicle_id": one, "km_per_year": 4_000.0, "low": 3_000.0, "high": 6_000.0,
             "as_of": AS_OF, "km_at_as_of": 52_000.0, "basis": "readings"} for one in ids
        ])  # fmt: skip
        parts = [(new_id(), ids[n % cars]) for n in range(cars * PARTS_A_CAR)]
        session.execute(insert(Fitment), [{**stamp, "id": part, "vehicle_id": car, "kind": KIND, "position": str(n // cars)} for n, (part, car) in enumerate(parts)])  # fmt: skip
        likely = [
            *days_due(rng),
            *(AS_OF + timedelta(days=int(d)) for d in rng.integers(1_800, 6_000, len(parts) - DUE)),
        ]
        terms = {"planned": 40.0, "failure": 400.0, "new_part_fault": 0.02, "own_costs": False, "interval_km": 60_000.0,
                 "interval_years": 8.0, "bound_by": "cost", "cost_per_year": 9.0, "cost_run_to_failure": 20.0}  # fmt: skip
        session.execute(insert(Forecast), [
            {**stamp, "id": new_id(), "fitment_id": part, "vehicle_id": car, "model_id": force.model_id, "kind": KIND, "decides": "age",
             "as_of": AS_OF, "reason": "Renew at about 8 years: cost decides.", "due_earliest": day - timedelta(days=90),
             "due_likely": day, "due_latest": day + timedelta(days=90), "coefficients": coefficients(rng, "none") | terms}
            for (part, car), day in zip(parts, likely, strict=True)
        ])  # fmt: skip
        return Principal(fleet.id, "k", "read", "Europe/London", "GBP")


def digest_and_mail(database, who):
    """What the Monday's jobs do for one fleet and one address."""
    with reading(database) as session:
        said = content(session, who, AS_OF)
        calendar = written("Due work", entries(session, who, None, AS_OF))
    shown = DigestOut.model_validate({**said.model_dump(mode="json"), "made_at": datetime.now(UTC)})
    mail = message(
        shown,
        "fleet",
        calendar,
        sender="digest@cars.example",
        address="keeper@garage.example",
        identity="1",
        pages="",
    )
    return said, mail.as_bytes()


@pytest.fixture
def database(tmp_path):
    with fresh_database(tmp_path) as found:
        schema.migrate(found)
        yield found


def timed(database, who):
    begun = time.process_time()
    digest_and_mail(database, who)
    return time.process_time() - begun


def peak_of(database, who):
    """Peak of memory that Python allotted meanwhile, in MB."""
    tracemalloc.start()
    try:
        digest_and_mail(database, who)
        return tracemalloc.get_traced_memory()[1] / 1e6
    finally:
        tracemalloc.stop()


def test_time_and_memory_follow_what_is_due_and_not_what_is_owned(database):
    who = {cars: fill(database, cars) for cars in (SMALL, LARGE)}
    said = {cars: digest_and_mail(database, one) for cars, one in who.items()}
    for cars in (SMALL, LARGE):
        digest = said[cars][0]
        assert [digest.still_due.count, digest.became_due.count, digest.due_soon.count] == [150, 100, 100]
        assert len(digest.cars) + digest.cars_left_out == cars
        assert sum(digest.weeks.counts) + digest.weeks.due_before < DUE
    rounds = [{cars: timed(database, one) for cars, one in who.items()} for _ in range(3)]
    seconds = {cars: statistics.median(one[cars] for one in rounds) for cars in who}
    ratio = statistics.median(one[LARGE] / one[SMALL] for one in rounds)
    peaks = {cars: peak_of(database, one) for cars, one in who.items()}
    sizes = {cars: len(mail) / 1e3 for cars, (_, mail) in said.items()}
    print(
        f"\ndigest and mail, {DUE} parts due within two years: {seconds[SMALL]:.2f} s for {SMALL:,} cars, "
        f"{seconds[LARGE]:.2f} s for {LARGE:,}: ratio {ratio:.2f}; peak {peaks[SMALL]:.1f} MB and {peaks[LARGE]:.1f} MB; "
        f"mail {sizes[SMALL]:.0f} kB and {sizes[LARGE]:.0f} kB"
    )
    assert ratio < TARGET
    assert peaks[LARGE] < TARGET * peaks[SMALL]
