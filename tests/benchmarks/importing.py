"""One import of odometer readings in a process of its own, or bare insertion of the same rows; prints seconds and memory."""

import json
import pickle
import resource
import sys
import tempfile
import time
from datetime import date, timedelta
from itertools import islice
from pathlib import Path

from sqlalchemy import delete
from sqlmodel import select

from api.imports import service
from api.imports.schemas import ImportCreate
from api.imports.source import ROWS_AT_ONCE
from api.jobs.run import run_job
from api.security import Principal
from api.serving import settle
from api.storage import bulk
from api.storage.engine import Database
from api.storage.session import reading, writing
from api.storage.tables import BulkImport, Fleet, OdometerReading, Vehicle
from api.storage.types import new_id, utc_now

FIRST_DAY = date(2010, 1, 1)
READINGS_PER_CAR = 50
TABLE = OdometerReading.__table__


def prepare(database, rows):
    """A fleet with enough cars; its id."""
    with writing(database) as session:
        fleet = Fleet(name="large")
        session.add(fleet)
        session.flush()
        ids = [new_id() for _ in range(max(rows // READINGS_PER_CAR, 1))]
        now = [utc_now()] * len(ids)
        columns = {"id": ids, "fleet_id": [fleet.id] * len(ids), "version": [1] * len(ids), "created_at": now,
                   "updated_at": now, "name": ids, "distance_unit": ["km"] * len(ids),
                   "external_ref": [f"CAR-{number}" for number in range(len(ids))]}  # fmt: skip
        bulk.insert_columns(session, Vehicle.__table__, columns)
        return fleet.id


def lines(rows):
    """CSV as another program writes it at night: by day, all cars in turn."""
    yield "vehicle_ref,external_ref,read_on,reading.value,reading.unit\n"
    cars = max(rows // READINGS_PER_CAR, 1)
    for number in range(rows):
        turn, car = divmod(number, cars)
        day = FIRST_DAY + timedelta(days=90 * turn + car % 90)
        unit = "mi" if car % 3 == 0 else "km"
        yield f"CAR-{car},E-{number},{day},{1000 + 700 * turn + car % 97},{unit}\n"


def pieces(rows):
    """The same in pieces of bytes."""
    source = lines(rows)
    while some := "".join(islice(source, 10_000)):
        yield some.encode()


def take_in(database, fleet_id, rows):
    """Seconds from the first byte to the moment when all rows are shown, and of the parts."""
    who = Principal(fleet_id, "", "write", "UTC", "EUR")
    with writing(database) as session:
        row = service.create(session, who, ImportCreate(kind="odometer-readings"))
    spooled = 0.0
    row = service._begin(database, who, row.id, "upload")
    for number, piece in enumerate(pieces(rows)):
        began = time.perf_counter()
        service._keep(database, row, "upload", number, piece)
        spooled += time.perf_counter() - began
    sent = service._end(database, who, row, "upload", 0, "")
    began = time.perf_counter()
    run_job(database, sent.job_id, "worker", lambda: False)
    ended = time.perf_counter()
    with reading(database) as session:
        (done,) = session.exec(select(BulkImport)).all()
    assert (done.phase, done.rows_new) == ("shown", rows), (done.phase, done.rows_new, done.rows_bad)
    return {"seconds": spooled + ended - began, "spooling": spooled}


def bare(database, fleet_id, rows):
    """Seconds of inserting the very rows, ready made, by the same statements in transactions of the same size."""
    path = Path(tempfile.mkdtemp()) / "rows"
    with reading(database) as session, path.open("wb") as kept:
        names = [column.name for column in TABLE.columns]
        found = session.connection().execution_options(yield_per=ROWS_AT_ONCE)
        for some in found.execute(select(*TABLE.columns).order_by(TABLE.c.id)).partitions():
            pickle.dump(dict(zip(names, map(list, zip(*some, strict=True)), strict=True)), kept)
    with writing(database) as session:
        session.connection().execute(delete(TABLE))
    seconds = 0.0
    with path.open("rb") as kept:
        for _ in range(-(-rows // ROWS_AT_ONCE)):
            columns = pickle.load(kept)  # noqa: S301 - written above
            began = time.perf_counter()
            with writing(database) as session:
                bulk.insert_columns(session, TABLE, columns)
            seconds += time.perf_counter() - began
    path.unlink()
    return {"seconds": seconds}


def main(url, way, rows):
    database = Database(url)
    if way == "prepare":
        prepare(database, rows)
        return
    with reading(database) as session:
        fleet_id = session.exec(select(Fleet.id)).one()
    settle()  # as a service does before it serves
    found = {"import": take_in, "bare": bare}[way](database, fleet_id, rows)
    found["peak_mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    sys.stdout.write("\n" + json.dumps(found))


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]))
