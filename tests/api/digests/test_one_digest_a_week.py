"""A digest is made once per ISO week where the fleet is, says what is due, done and accepted, and stays as made."""

import threading
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import event

from api.digests import content as contents
from api.digests.content import content, week_of
from api.pages.rendering import day
from api.security import Principal
from api.storage.session import reading as read_only
from tests.api.history.making import car, fitment, made, odometer, problem, removal

AS_OF = date(2026, 10, 10)


def digest(fleet, as_of=AS_OF):
    """What a digest of that day would say."""
    who = Principal(fleet.id, "k", "read", "Europe/London", "GBP")
    with read_only(fleet.service.database) as session:
        return content(session, who, as_of).model_dump(mode="json")


def make(fleet, client):
    asked = client.post("/v1/digests")
    assert asked.status_code == 202, asked.text
    job = fleet.wait_for_job(asked.headers["Location"])
    assert job["state"] == "succeeded", job
    return job["result"]


@pytest.fixture
def vehicle(client):
    found = car(client, name="Ida")
    for year in range(2015, 2027):
        odometer(client, found, f"{year}-09-01", 50_000 + 2_000 * (year - 2015), dial_digits=6)
    return found


def likely(client, part):
    items = client.get("/v1/due-soon", params={"as_of": AS_OF, "within_days": 3660}).json()["items"]
    return date.fromisoformat(next(one for one in items if one["fitment_id"] == part)["window"]["likely"])


def ids(section):
    return [one["fitment_id"] for one in section["items"]]


def test_a_part_goes_from_soon_to_due_to_due_for_longer(fleet, client, vehicle):
    part = fitment(client, vehicle, "battery", "2023-09-01")
    day = likely(client, part)
    for as_of, section in (
        (day - timedelta(days=29), None),
        (day - timedelta(days=28), "due_soon"),
        (day - timedelta(days=1), "due_soon"),
        (day, "became_due"),
        (day + timedelta(days=6), "became_due"),
        (day + timedelta(days=7), "still_due"),
    ):
        said = digest(fleet, as_of)
        named = [name for name in ("due_soon", "became_due", "still_due") if part in ids(said[name])]
        assert named == ([section] if section else []), as_of
        assert section is None or said[section]["count"] == 1


def test_what_was_done_and_accepted_stands_in_it(fleet, client, vehicle):
    off = fitment(client, vehicle, "v_belt", "2016-09-01")
    removal(client, off, "2026-10-05", "preventive")
    long_off = fitment(client, vehicle, "battery", "2016-09-01")
    removal(client, long_off, "2026-10-03", "preventive")
    kept = fitment(client, vehicle, "distributor_cap", "2016-09-01")
    work = {"repaired_on": "2026-10-06", "action": "cleaned"}
    made(client.post(f"/v1/fitments/{kept}/repairs", json=work))
    made(client.post(f"/v1/fitments/{kept}/put-off", json={"until": None, "reason": "sold in May"}))
    said = digest(fleet)
    assert [(one["fitment_id"], one["what"], one["how"]) for one in said["done"]] == [
        (off, "came off", "preventive"),
        (kept, "worked on", "cleaned"),
    ]
    (accepted,) = said["accepted"]
    assert (accepted["fitment_id"], accepted["until"], accepted["reason"]) == (kept, None, "sold in May")


def test_cars_whose_odometer_nobody_read_and_their_chances(fleet, client, vehicle):
    fitment(client, vehicle, "rotor_arm", "2012-09-01")
    never = car(client, name="Otto")
    old = car(client, name="Emil")
    odometer(client, old, "2026-07-11", 70_000)
    said = digest(fleet)
    assert [(one["vehicle_id"], one["last_read_on"]) for one in said["unread_odometers"]] == [
        (never, None),
        (old, "2026-07-11"),
    ]
    assert said["cars"][0]["vehicle_id"] == vehicle
    risk = client.get(f"/v1/vehicles/{vehicle}/risk", params={"as_of": AS_OF, "days": 30}).json()
    assert said["cars"][0]["stop"] == risk["stop"]
    assert [one["stop"]["mean"] for one in said["cars"][1:]] == [0, 0]


def test_parts_to_order_and_the_weeks_add_up(fleet, client, vehicle):
    belt = fitment(client, vehicle, "v_belt", "2016-09-01")
    battery = fitment(client, vehicle, "battery", "2023-09-01")
    fitment(client, vehicle, "coolant_hose", "2024-09-01")
    day = likely(client, battery)
    said = digest(fleet, day - timedelta(days=20))
    wanted = {one["kind"]: (one["planned"], one["needed_by"]) for one in said["to_order"]}
    assert wanted["battery"] == (1, day.isoformat())
    assert wanted["v_belt"] == (1, (day - timedelta(days=20)).isoformat())
    told = {one["kind"]: one for one in said["to_order"]}
    assert (told["battery"]["order_by"], told["battery"]["late"]) == (
        (day - timedelta(days=14)).isoformat(),
        False,
    )
    assert (told["v_belt"]["order_by"], told["v_belt"]["late"]) == (said["as_of"], True)
    assert "charged every three months" in told["battery"]["shelf"]
    assert {one["safety"] for one in said["to_order"]} == {False}
    assert said["weeks"]["due_before"] == 1
    week = (day - date.fromisoformat(said["weeks"]["first"])).days // 7
    assert said["weeks"]["counts"][week] >= 1
    made(client.post(f"/v1/fitments/{belt}/put-off", json={"until": None, "reason": "sold"}))
    assert "v_belt" not in {one["kind"] for one in digest(fleet, day)["to_order"]}
    later = day + timedelta(days=30)
    made(client.post(f"/v1/fitments/{battery}/put-off", json={"until": str(later), "reason": "spring"}))
    told = {one["kind"]: one for one in digest(fleet, day)["to_order"]}
    assert (told["battery"]["planned"], told["battery"]["needed_by"]) == (1, later.isoformat())
    assert "battery" not in {one["kind"] for one in digest(fleet, day - timedelta(days=30))["to_order"]}


def test_one_per_week_and_never_rewritten(fleet, client, reading, vehicle):
    first = make(fleet, client)
    today = datetime.now(ZoneInfo("Europe/London")).date()
    assert first == {"week": week_of(today), "made": True, "digest": f"/v1/digests/{week_of(today)}"}
    before = reading.get(first["digest"])
    assert before.json()["still_due"]["count"] == 0
    fitment(client, vehicle, "v_belt", "2012-09-01")
    assert make(fleet, client) == {**first, "made": False}
    assert reading.get(first["digest"]).json() == before.json()
    listed = reading.get("/v1/digests").json()["items"]
    assert [one["week"] for one in listed] == [first["week"]]
    tag = before.headers["ETag"]
    assert reading.get(first["digest"], headers={"If-None-Match": tag}).status_code == 304


def test_the_week_is_the_iso_week_where_the_fleet_is(service):
    """ISO 8601: the week belongs to the year that its Thursday lies in."""
    assert week_of(date(2027, 1, 3)) == "2026-W53"
    assert week_of(date(2027, 1, 4)) == "2027-W01"
    assert week_of(date(2024, 12, 30)) == "2025-W01"
    for zone in ("Pacific/Kiritimati", "Pacific/Niue"):
        fleet = service.fleet(time_zone=zone)
        with fleet.client("write") as client:
            here = datetime.now(ZoneInfo(zone)).date()
            assert make(fleet, client)["week"] == week_of(here)


def test_another_fleet_sees_nothing_of_it(fleet, client, stranger, vehicle):
    fitment(client, vehicle, "v_belt", "2012-09-01")
    week = make(fleet, client)["week"]
    problem(stranger.get(f"/v1/digests/{week}"), 404)
    assert stranger.get("/v1/digests").json()["items"] == []


@pytest.mark.parametrize("week", ["2026-48", "2026-W5", "W48", "2026-W48x"])
def test_a_malformed_week_is_refused(reading, week):
    problem(reading.get(f"/v1/digests/{week}"), 422, "week")


def test_the_work_grows_with_what_is_due_and_not_with_what_is_owned(fleet, client, vehicle, monkeypatch):
    """As many statements for a fleet with many idle cars as for one with few, once the fleet counts as large."""
    monkeypatch.setattr(contents, "MOST_CARS", 3)
    fitment(client, vehicle, "v_belt", "2012-09-01")

    def idle(number):
        for _ in range(number):
            fitment(client, car(client, name="idle"), "v_belt", "2026-09-01")

    def statements():
        seen, here = [], threading.get_ident()

        def listen(*args):
            if threading.get_ident() == here:  # the service's own work by the clock goes on beside
                seen.append(args[2])

        engine = fleet.service.database.engine
        event.listen(engine, "before_cursor_execute", listen)
        try:
            said = digest(fleet)
        finally:
            event.remove(engine, "before_cursor_execute", listen)
        return len(seen), said

    idle(4)
    few, said = statements()
    assert [one["vehicle_id"] for one in said["cars"]] == [vehicle]
    idle(12)
    many, again = statements()
    assert few > 5
    assert many == few
    assert (said["cars_left_out"], again["cars_left_out"]) == (4, 16)
    assert again == said | {"cars_left_out": 16}


def test_of_many_parts_the_first_are_named_and_all_are_counted(fleet, client, vehicle, monkeypatch):
    monkeypatch.setattr(contents, "MOST_NAMED", 2)
    for number in range(5):
        fitment(client, vehicle, "v_belt", "2012-09-01", position=f"belt {number}")
    said = digest(fleet)
    assert (said["still_due"]["count"], len(said["still_due"]["items"])) == (5, 2)
    assert said["still_due"]["safety"] == 0
    hose = fitment(client, vehicle, "brake_hose", "2014-09-01")
    made(client.post(f"/v1/fitments/{hose}/put-off", json={"until": "2099-01-01", "reason": "no money"}))
    said = digest(fleet)
    assert (said["still_due"]["count"], said["still_due"]["safety"]) == (6, 1)
    (accepted,) = said["accepted"]
    assert accepted["warning"].startswith("The limit of this part was reached on 2")


def test_the_chances_say_by_when(fleet, client, vehicle):
    part = fitment(client, vehicle, "battery", "2023-09-01")
    (said,) = digest(fleet, likely(client, part))["became_due"]["items"]
    closes = date.fromisoformat(said["window"]["latest"])
    assert said["chance"].endswith(f" by {day(closes)}")
