"""A process that takes files in, killed at random moments, and what the database holds afterwards."""

import os
import random
import signal
import subprocess
import sys
import time
from contextlib import contextmanager
from datetime import date, timedelta

from sqlalchemy import func, select

from api.imports import service
from api.imports.schemas import ImportCreate
from api.jobs.run import run_job
from api.security import Principal
from api.storage.session import reading, writing
from api.storage.tables import BulkImport, Job, OdometerReading, Vehicle
from tests.api.jobs.test_a_killed_job_is_finished_by_the_next_process import url_of, wait_until

READINGS_PER_CAR = 200


def file_of(rows):
    """Readings of many cars, some of them bad by themselves, some at odds with their neighbours, some told twice."""
    cars = rows // READINGS_PER_CAR
    lines = ["vehicle_ref,external_ref,read_on,reading.value,reading.unit"]
    for number in range(rows):
        turn, car = divmod(number, cars)
        figure = 1000 + 10 * turn if number % 997 else "about 900"
        figure = 5 if number % 1499 == 1498 else figure
        ref = f"E-{number - 1}" if number % 1201 == 1200 else f"E-{number}"
        day = 30_000 + turn
        lines.append(f"CAR-{car},{ref},{_day(day)},{figure},km")
    return ("\n".join(lines) + "\n").encode()


def _day(number):
    return (date(1890, 1, 1) + timedelta(days=number - 30_000)).isoformat()


def cars_of(database, fleet_id, rows):
    with writing(database) as session:
        for number in range(rows // READINGS_PER_CAR):
            session.add(
                Vehicle(
                    fleet_id=fleet_id, name=f"car {number}", distance_unit="km", external_ref=f"CAR-{number}"
                )
            )


def queued(database, fleet_id, content, **options):
    """An import with its file, queued as the service would."""
    who = Principal(fleet_id, "", "write", "UTC", "EUR")
    with writing(database) as session:
        row = service.create(session, who, ImportCreate(kind="odometer-readings", **options))
    row = service._begin(database, who, row.id, "upload")
    for number, first in enumerate(range(0, len(content), 100_000)):
        service._keep(database, row, "upload", number, content[first : first + 100_000])
    return service._end(database, who, row, "upload", len(content), "digest").id


def standing(database, import_id):
    """State of the import's job and of the one that follows it, and the import."""
    with reading(database) as session:
        row = session.get(BulkImport, import_id)
        states = [
            None if job is None else session.get(Job, job).state for job in (row.job_id, row.refresh_job_id)
        ]
        return states, row


def held(database, fleet_id):
    """What is stored: how many rows, seen and in all, their sum, their true sum, and references."""
    with reading(database) as session:
        bare = OdometerReading.__table__
        columns = (func.count(), func.sum(bare.c.reading_value), func.sum(bare.c.km_total))
        everything = session.connection().execute(select(*columns).where(bare.c.fleet_id == fleet_id)).one()
        seen = session.execute(
            select(func.count()).select_from(OdometerReading).where(OdometerReading.fleet_id == fleet_id)
        ).scalar_one()
        refs = session.connection().execute(
            select(bare.c.external_ref, bare.c.read_on, bare.c.reading_value).where(
                bare.c.fleet_id == fleet_id
            )
        )
        return seen, tuple(everything), sorted(tuple(map(str, row)) for row in refs)


def seen_now(database, fleet_id):
    with reading(database) as session:
        return session.execute(
            select(func.count()).select_from(OdometerReading).where(OdometerReading.fleet_id == fleet_id)
        ).scalar_one()


@contextmanager
def process(url, way="serve"):
    """A process that runs jobs, stopped at the end if it still runs."""
    started = subprocess.Popen(
        [sys.executable, "-m", "tests.api.imports.process", way, url], stderr=subprocess.DEVNULL
    )
    try:
        yield started
    finally:
        if started.poll() is None:
            started.send_signal(signal.SIGTERM)
            started.wait(60)


def kill_until_ended(url, begun, over, *, kills, within, meanwhile=lambda: time.sleep(0.01), seed=0):
    """Kill processes at random moments of some work, then let one end it; how many were killed at it.

    Args:
        url: of the database.
        begun: how often the work was begun.
        over: whether it has ended.
        kills: how many times at most.
        within: seconds after an attempt began in which its process is killed.
        meanwhile: called again and again while the work goes on.
    """
    rng, done = random.Random(seed), 0  # noqa: S311 - moments for tests, no secret
    while done < kills and not over():
        before = begun()
        with process(url) as running:
            wait_until(lambda: begun() > before or over(), 120)  # noqa: B023 - waited for here
            until = time.monotonic() + rng.uniform(0.0, within)
            while time.monotonic() < until:
                meanwhile()
            os.kill(running.pid, signal.SIGKILL)
            running.wait()
        done += not over()
    with process(url):
        while not over():
            meanwhile()
    return done


def killed_until_done(database, fleet_id, import_id, *, kills, seconds):
    """Kill processes at random moments of the work, then let one end it; numbers of rows seen meanwhile, and kills.

    Args:
        kills: how many times.
        seconds: how long the undisturbed work took. An attempt goes on where the last one ended, so each is killed
            within half again its share of that.
    """
    looks = set()

    def look():
        looks.add(seen_now(database, fleet_id))
        time.sleep(0.01)

    done = kill_until_ended(
        url_of(database),
        lambda: attempts(database, import_id),
        lambda: ended(database, import_id),
        kills=kills,
        within=1.5 * seconds / kills,
        meanwhile=look,
    )
    return looks, done


def undisturbed(database, import_id):
    """Do the work here, with the job that follows; seconds."""
    began = time.monotonic()
    while not ended(database, import_id):
        with reading(database) as session:
            row = session.get(BulkImport, import_id)
        for job in filter(None, (row.job_id, row.refresh_job_id)):
            run_job(database, job, "here", lambda: False)
    return time.monotonic() - began


def attempts(database, import_id):
    """How often its jobs were begun."""
    with reading(database) as session:
        row = session.get(BulkImport, import_id)
        ids = filter(None, (row.job_id, row.refresh_job_id))
        return sum(session.get(Job, job).attempt for job in ids)


def ended(database, import_id):
    (state, after), row = standing(database, import_id)
    if state not in {"succeeded", "failed"}:
        return False
    return row.phase == "refused" or after in {"succeeded", "failed"}
