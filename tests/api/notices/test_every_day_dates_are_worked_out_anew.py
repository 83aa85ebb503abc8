"""The daily work of a fleet, by its own calendar: once a day, however many look at the clock and however often it runs."""

from datetime import UTC, date, datetime, timedelta

import pytest
from sqlmodel import select

from api.jobs import Sessions
from api.notices import due_soon
from api.schedules import daily
from api.storage.session import reading, writing
from api.storage.tables import Fleet, Forecast, Job, VehicleUsage
from tests.api.history.making import car, fitment, odometer


def jobs_of(client):
    return [job for job in client.get("/v1/jobs").json()["items"] if job["kind"] == daily.WORK]


def set_day(service, fleet, day, zone=None):
    with writing(service.database) as session:
        row = session.get(Fleet, fleet.id)
        row.dated_on = day
        row.time_zone = zone or row.time_zone


def age_the_records(service, fleet, days):
    """As if everything had been worked out some days ago."""
    with writing(service.database) as session:
        for table in (Forecast, VehicleUsage):
            for row in session.exec(select(table).where(table.fleet_id == fleet.id)):
                row.as_of -= timedelta(days=days)


def as_of(service, fleet):
    with reading(service.database) as session:
        return {
            row.as_of
            for table in (Forecast, VehicleUsage)
            for row in session.exec(select(table).where(table.fleet_id == fleet.id))
        }


def run(service, fleet, today, monkeypatch=None):
    job = Job(fleet_id=fleet.id, kind=daily.WORK)
    return daily.work(Sessions(service.database), job, {"day": today.isoformat()}, lambda *_: None)


@pytest.fixture
def only_fleet(service, fleet):
    """No other fleet sees a day begin: the service is shared, and hundreds of jobs would keep later tests waiting."""
    with writing(service.database) as session:
        for row in session.exec(select(Fleet).where(Fleet.id != fleet.id)):
            row.dated_on = date(2099, 1, 1)


@pytest.mark.usefixtures("only_fleet")
def test_a_new_day_begins_where_the_fleet_is(service, client, fleet):
    sessions = Sessions(service.database)
    set_day(service, fleet, date(2030, 1, 1), "Pacific/Auckland")
    daily.tick(sessions, datetime(2030, 1, 1, 10, 59, tzinfo=UTC))  # 23:59 there
    assert jobs_of(client) == []
    daily.tick(sessions, datetime(2030, 1, 1, 11, 1, tzinfo=UTC))
    assert len(jobs_of(client)) == 1
    daily.tick(sessions, datetime(2030, 1, 1, 11, 2, tzinfo=UTC))
    daily.tick(sessions, datetime(2030, 1, 2, 10, 59, tzinfo=UTC))
    assert len(jobs_of(client)) == 1
    set_day(service, fleet, date(2099, 1, 1))


def test_dates_stand_for_the_day_and_a_second_run_does_nothing(service, client, fleet):
    for name in "abc":
        vehicle = car(client, name=name)
        odometer(client, vehicle, "2020-05-01", 50_000)
        fitment(client, vehicle, "v_belt", "2018-05-01")
    age_the_records(service, fleet, 40)
    today = datetime.now(UTC).date()
    assert as_of(service, fleet) != {today}
    result = run(service, fleet, today)
    assert (result["cars"], result["failed"]) == (3, 0)
    assert as_of(service, fleet) == {date.fromisoformat(result["day"])}
    assert run(service, fleet, today)["cars"] == 0


def test_what_comes_due_with_time_is_told_once(service, client, fleet, listen):
    """Nobody changes anything: a part whose likely day lies beyond the ninety days comes into them as days pass."""
    vehicle = car(client)
    part = fitment(client, vehicle, "v_belt", (datetime.now(UTC).date() - timedelta(days=400)).isoformat())
    since = listen("due_soon.entered", "due_soon.left")
    with reading(service.database) as session:
        likely = session.exec(select(Forecast.due_likely).where(Forecast.fitment_id == part)).one()
    day_before = likely - timedelta(days=due_soon.WITHIN_DAYS + 30)
    assert day_before > datetime.now(UTC).date()
    run(service, fleet, day_before)
    assert since() == []
    with reading(service.database) as session:
        likely = session.exec(select(Forecast.due_likely).where(Forecast.fitment_id == part)).one()
    run(service, fleet, likely - timedelta(days=due_soon.WITHIN_DAYS - 5))
    ((kind, data),) = since()
    assert (kind, [one["fitment_id"] for one in data["parts"]]) == ("due_soon.entered", [part])
    run(service, fleet, likely - timedelta(days=due_soon.WITHIN_DAYS - 5))
    assert since() == []


def test_interrupted_in_the_middle_it_goes_on_where_it_was(service, client, fleet, monkeypatch):
    from api.bridge.forecasts import redating

    monkeypatch.setattr(redating, "CARS_IN_ONE_TRANSACTION", 1)
    for name in "abc":
        fitment(client, car(client, name=name), "v_belt", "2018-05-01")
    age_the_records(service, fleet, 10)

    def stop(done, _total, _what):
        if done == 2:
            raise ZeroDivisionError

    job, today = Job(fleet_id=fleet.id, kind=daily.WORK), datetime.now(UTC).date()
    with pytest.raises(ZeroDivisionError):
        daily.work(Sessions(service.database), job, {"day": today.isoformat()}, stop)
    assert run(service, fleet, today)["cars"] == 1


def test_a_car_whose_records_contradict_each_other_holds_up_no_other(service, client, fleet):
    from api.storage.tables import OdometerReading

    cars = [car(client, name=name) for name in "abc"]
    for vehicle in cars:
        odometer(client, vehicle, "2019-05-01", 40_000)
        odometer(client, vehicle, "2020-05-01", 50_000)
        fitment(client, vehicle, "v_belt", "2018-05-01")
    with writing(service.database) as session:  # behind the service's back
        row = session.exec(
            select(OdometerReading).where(
                OdometerReading.vehicle_id == cars[1], OdometerReading.reading_value > 45_000
            )
        ).one()
        row.reading_value = 30_000
    age_the_records(service, fleet, 10)
    result = run(service, fleet, datetime.now(UTC).date())
    assert (result["cars"], result["failed"]) == (3, 1)
    assert len(as_of(service, fleet)) == 2
