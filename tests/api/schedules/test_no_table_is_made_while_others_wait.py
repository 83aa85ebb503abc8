"""An interval table takes half a second: none is made while a write transaction is open, which others would wait for."""

import threading
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import event
from sqlmodel import select

from api.bridge.forecasts.redating import redate
from api.bridge.in_force import tables
from api.jobs import Sessions
from api.storage.session import writing
from api.storage.tables import KindSettings
from tests.api.history.making import car, fitment, made, odometer, refit, removal, settle

KIND = "damper"
SETTINGS = f"/v1/part-kinds/{KIND}/settings"
READ_ONLY = {"wearwright_read_only", "postgresql_readonly"}


@pytest.fixture
def within(service, monkeypatch):
    """For every table made: whether the thread that made it held a write transaction open."""
    here, found, real = threading.local(), [], tables.interval_table

    def begun(connection):
        if not READ_ONLY & connection.get_execution_options().keys():
            here.open = getattr(here, "open", 0) + 1

    def ended(connection):
        if not READ_ONLY & connection.get_execution_options().keys():
            here.open = getattr(here, "open", 0) - 1

    def spied(*arguments, **options):
        found.append(getattr(here, "open", 0) > 0)
        return real(*arguments, **options)

    engine = service.database.engine
    for name, hook in (("begin", begun), ("commit", ended), ("rollback", ended)):
        event.listen(engine, name, hook)
    monkeypatch.setattr(tables, "interval_table", spied)
    yield found
    for name, hook in (("begin", begun), ("commit", ended), ("rollback", ended)):
        event.remove(engine, name, hook)


def own_terms(failure):
    """Costs that no other test has, so that no table of this process serves."""
    return {"costs": {"planned": 77.0, "failure": failure}}


def change_unapplied(service, fleet, failure):
    """Terms that no job has applied yet, as between a change and its job."""
    with writing(service.database) as session:
        row = session.exec(select(KindSettings).where(KindSettings.fleet_id == fleet.id)).one()
        row.failure = failure
        session.add(row)


def record(client, name, *, keyed=False):
    vehicle = car(client, name=name)
    odometer(client, vehicle, "2021-06-01", 60_000)
    if keyed:
        body = {"kind": KIND, "fitted_on": "2015-06-01"}
        headers = {"Idempotency-Key": name}
        made(client.post(f"/v1/vehicles/{vehicle}/fitments", json=body, headers=headers))
        return vehicle
    part = fitment(client, vehicle, KIND, "2015-06-01", 20_000)
    removal(client, part, "2021-06-01", "failed, confirmed", 60_000)
    return vehicle


def test_tables_are_made_before_a_transaction_opens(fleet, client, service, within):
    settle(fleet, client.put(SETTINGS, json=own_terms(771.0)))
    record(client, "first on changed terms", keyed=True)
    assert within == [False]
    settle(fleet, client.put(SETTINGS, json=own_terms(772.0)))  # applied by a job
    assert within == [False] * 2
    record(client, "one")
    record(client, "two")
    assert refit(fleet, client, KIND)["state"] == "succeeded"
    assert len(within) >= 3
    assert not any(within)
    change_unapplied(service, fleet, 773.0)
    before = len(within)
    odometer(client, record(client, "three", keyed=True), "2022-06-01", 70_000)
    assert len(within) == before + 1
    assert not any(within)


def test_dates_worked_out_for_a_new_day_make_theirs_first(fleet, client, service, within):
    record(client, "one", keyed=True)
    settle(fleet, client.put(SETTINGS, json=own_terms(774.0)))
    change_unapplied(service, fleet, 775.0)
    before, tomorrow = len(within), datetime.now(UTC).date() + timedelta(days=2)
    assert redate(Sessions(service.database), fleet.id, tomorrow, lambda *_: None) == (1, 0)
    assert len(within) == before + 1
    assert not any(within)
