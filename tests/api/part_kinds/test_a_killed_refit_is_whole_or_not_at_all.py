"""Kill -9 in the middle of refits: lives, tables and dates are in the end those of an undisturbed run, each there once."""

import time

import pytest
from sqlmodel import select

from api.jobs.run import run_job
from api.storage.engine import Database
from api.storage.session import reading
from api.storage.tables import Fitment, Forecast, IntervalTable, Job, LifeModel
from tests.api.history.making import car, fitment, removal
from tests.api.imports.killing import kill_until_ended
from tests.api.jobs.test_a_killed_job_is_finished_by_the_next_process import url_of
from tests.api.support import fresh_settings, running

FITTED = ("2015-06-01", 20_000)
GONE = (("2019-03-01", 41_000), ("2021-09-01", 66_000), ("2018-05-01", 33_000), None)


def queued(folder, kinds, cars):
    """The address of a database with a fleet and a refit queued for each kind, and the jobs."""
    folder.mkdir()
    settings = fresh_settings(folder, jobs=False)
    with running(settings) as service, service.fleet().client("write") as client:
        for number in range(cars):
            vehicle = car(client, name=f"car {number}")
            for place, kind in enumerate(kinds):
                part = fitment(client, vehicle, kind, *FITTED, external_ref=f"{number}-{kind}")
                gone = GONE[(number + place) % len(GONE)]
                if gone is not None:
                    removal(client, part, gone[0], "failed, confirmed", gone[1])
                    fitment(client, vehicle, kind, *gone, external_ref=f"{number}-{kind}-next")
        posted = [client.post(f"/v1/part-kinds/{kind}/refits").raise_for_status() for kind in kinds]
    return settings.database_url.get_secret_value(), [answer.json()["id"] for answer in posted]


def left(database):
    """All that refits leave: lives and tables by kind, dates by part."""
    with reading(database) as session:
        models = session.exec(select(LifeModel)).all()
        tables = session.exec(select(IntervalTable)).all()
        found = session.exec(select(Forecast, Fitment).where(Forecast.fitment_id == Fitment.id)).all()
        fitted = {model.id: model for model in models if model.current}
        dates = sorted(
            (
                part.external_ref,
                row.due_earliest,
                row.due_likely,
                row.due_latest,
                row.decides,
                row.model_id in fitted,
            )
            for row, part in found
        )
    lives = sorted((m.kind, m.source, m.current, str(_without_names(m.content))) for m in models)
    return lives, sorted((t.fingerprint, str(t.content)) for t in tables), dates


def _without_names(content):
    return {name: value for name, value in content.items() if name != "left_out"}


def states(database, jobs):
    with reading(database) as session:
        return [session.get(Job, job).state for job in jobs]


def attempts(database, jobs):
    with reading(database) as session:
        return sum(session.get(Job, job).attempt for job in jobs)


def ended(database, jobs):
    return set(states(database, jobs)) <= {"succeeded", "failed"}


def compare(tmp_path, kinds, cars, kills):
    """How many kills hit the work; whatever they hit, what is left is the same."""
    url, jobs = queued(tmp_path / "here", kinds, cars)
    database = Database(url)
    began = time.monotonic()
    for job in jobs:
        run_job(database, job, "here", lambda: False)
    each = (time.monotonic() - began) / len(kinds)
    wanted = left(database)
    assert states(database, jobs) == ["succeeded"] * len(kinds)
    assert [life[1] for life in wanted[0]] == ["book", "fitted"] * len(kinds)
    database.close()
    url, jobs = queued(tmp_path / "killed", kinds, cars)
    database = Database(url)
    done = kill_until_ended(
        url_of(database),
        lambda: attempts(database, jobs),
        lambda: ended(database, jobs),
        kills=kills,
        within=each,
    )
    assert states(database, jobs) == ["succeeded"] * len(kinds)
    assert left(database) == wanted
    database.close()
    print(f"{len(kinds)} refits of {cars} cars: {done} kills, undisturbed {each:.2f} s each")
    return done


def test_killed_once(tmp_path):
    compare(tmp_path, ["damper"], 4, 1)


@pytest.mark.full
@pytest.mark.timeout(7_200)
def test_killed_fifty_times(tmp_path):
    kinds = [
        "damper",
        "v_belt",
        "rotor_arm",
        "battery",
        "coolant_hose",
        "thermostat",
        "water_pump",
        "radiator",
    ]
    assert compare(tmp_path, kinds, 12, 50) >= 50
