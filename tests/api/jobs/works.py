"""Work that tests register: short, long, failing, counting."""

import threading
import time

from api import jobs
from api.storage.tables import Vehicle
from planner.errors import TooFewFailures

INSIDE = "the inside of a job 4711"
started = threading.Event()


def short(sessions, job, payload, progress):
    for done in range(3):
        progress(done, 3, f"step {done}")
    return {"got": payload}


def crash(sessions, job, payload, progress):
    raise RuntimeError(INSIDE)


def refuse(sessions, job, payload, progress):
    raise TooFewFailures("two failures at least, there is one")


def endless(sessions, job, payload, progress):
    """Goes on until it is asked to stop."""
    for done in range(10_000):
        started.set()
        progress(done, 10_000, "going on")
        time.sleep(0.02)


def add_cars(sessions, job, payload, progress):
    """Adds cars one by one under unique names, so that a second run adds only what is missing."""
    for number in range(payload["cars"]):
        with sessions() as session:
            ref = f"{job.id}-{number}"
            known = session.query(Vehicle).filter_by(fleet_id=job.fleet_id, external_ref=ref).count()
            if not known:
                session.add(Vehicle(fleet_id=job.fleet_id, name=ref, distance_unit="km", external_ref=ref))
        progress(number + 1, payload["cars"], "adding")
        time.sleep(payload["seconds_each"])
    return {"cars": payload["cars"]}


def register():
    for kind, work in {
        "test short": short,
        "test crash": crash,
        "test refuse": refuse,
        "test endless": endless,
        "test add cars": add_cars,
    }.items():
        jobs.register(kind, work)
