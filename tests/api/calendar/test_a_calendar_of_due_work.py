"""A calendar at a secret address: due work as RFC 5545 events that another program's parser reads."""

import json
import time
from datetime import UTC, date, datetime, timedelta

import pytest
from icalendar import Calendar
from sqlmodel import select

from api.bridge import gather, keep
from api.bridge.in_force import book_lives, tables
from api.calendar import feed
from api.storage.session import reading
from api.storage.tables import CalendarAddress
from tests.api.history.making import car, fitment, made, odometer, problem, removal

TODAY = datetime.now(UTC).date()
HOSTILE = "Ida\r\nEND:VCALENDAR\r\nX-EVIL:1;,\\ <script>"


@pytest.fixture
def vehicle(client):
    found = car(client, name="Ida")
    for year in range(2015, TODAY.year + 1):
        odometer(client, found, f"{year}-01-01", 50_000 + 2_000 * (year - 2015), dial_digits=6)
    return found


def subscribe(client, **body):
    return made(client.post("/v1/calendar", json=body))


def text_of(nobody, address):
    response = nobody.get(address)
    assert response.status_code == 200, response.text
    assert response.headers["content-type"] == "text/calendar; charset=utf-8"
    return response.content


def events(nobody, address):
    """What stands in the calendar, by the part's id."""
    read = Calendar.from_ical(text_of(nobody, address))
    assert read.errors == []
    return {str(event["UID"]).split("@")[0]: event for event in read.walk("VEVENT")}


def listed(client, part):
    items = client.get("/v1/due-soon", params={"within_days": 3660}).json()["items"]
    return next(one for one in items if one["fitment_id"] == part)


def test_a_part_stands_on_its_likely_day_with_window_and_reason(client, nobody, vehicle):
    part = fitment(client, vehicle, "battery", f"{TODAY.year - 3}-09-01", position="boot")
    event = events(nobody, subscribe(client)["address"])[part]
    item = listed(client, part)
    assert event.decoded("DTSTART") == date.fromisoformat(item["window"]["likely"])
    assert event["DTSTART"].params["VALUE"] == "DATE"
    assert event.decoded("DTEND") - event.decoded("DTSTART") == timedelta(days=1)
    assert str(event["SUMMARY"]) == "Ida: renew battery (starter), boot"
    for said in (item["window"]["earliest"], item["window"]["latest"], item["reason"], "no inspection"):
        assert said in str(event["DESCRIPTION"])
    assert event["STATUS"] == "CONFIRMED"
    assert event["DTSTAMP"].dt == event["LAST-MODIFIED"].dt


def test_a_safety_part_says_so(client, nobody, vehicle):
    part = fitment(client, vehicle, "brake_hose", "2016-01-01", position="front left")
    event = events(nobody, subscribe(client)["address"])[part]
    assert "licensed workshop" in str(event["DESCRIPTION"])
    assert event.decoded("DTSTART") >= TODAY - timedelta(days=1)


def test_the_same_state_gives_the_same_bytes(client, nobody, vehicle):
    fitment(client, vehicle, "v_belt", "2016-01-01")
    address = subscribe(client)["address"]
    assert text_of(nobody, address) == text_of(nobody, address)
    tag = nobody.get(address).headers["ETag"]
    assert nobody.get(address, headers={"If-None-Match": tag}).status_code == 304


def test_revisions_count_up_under_one_uid_until_the_part_is_off(client, nobody, vehicle, service):
    part = fitment(client, vehicle, "battery", f"{TODAY.year - 2}-09-01")
    address = subscribe(client)["address"]
    seen = [events(nobody, address)[part]]
    steps = (
        lambda: client.post(
            f"/v1/fitments/{part}/put-off",
            json={"until": f"{TODAY.year + 6}-12-01", "reason": "new, hardly used"},
        ),
        lambda: client.delete(f"/v1/fitments/{part}/put-off"),
        lambda: removal(client, part, TODAY.isoformat(), "preventive"),
    )
    for step in steps:
        wait_a_second(seen[-1]["LAST-MODIFIED"].dt)
        step()
        seen.append(events(nobody, address)[part])
    assert len({str(one["UID"]) for one in seen}) == 1
    sequences = [int(one["SEQUENCE"]) for one in seen]
    assert sequences == sorted(set(sequences))
    assert seen[1].decoded("DTSTART") == date(TODAY.year + 6, 12, 1)
    assert seen[2].decoded("DTSTART") == seen[0].decoded("DTSTART")
    assert [str(one["STATUS"]) for one in seen] == ["CONFIRMED"] * 3 + ["CANCELLED"]


def wait_a_second(moment):
    """Until the clock shows another second than a revision's."""
    while datetime.now(UTC).replace(microsecond=0) <= moment:
        pass


def test_a_declined_part_is_cancelled_and_a_limit_is_not(client, nobody, vehicle):
    belt = fitment(client, vehicle, "v_belt", "2016-01-01")
    tyres = fitment(client, vehicle, "tyres", "2016-01-01", position="front left")
    for part in (belt, tyres):
        made(client.post(f"/v1/fitments/{part}/put-off", json={"until": None, "reason": "sold in May"}))
    found = events(nobody, subscribe(client)["address"])
    assert found[belt]["STATUS"] == "CANCELLED"
    assert found[tyres]["STATUS"] == "CONFIRMED"
    assert "declining does not move it" in str(found[tyres]["DESCRIPTION"])


def test_a_part_off_for_long_is_gone(client, nobody, vehicle):
    part = fitment(client, vehicle, "v_belt", "2016-01-01")
    removal(client, part, (TODAY - timedelta(days=70)).isoformat(), "preventive")
    assert events(nobody, subscribe(client)["address"]) == {}


def test_one_cars_calendar_holds_that_car_only(client, nobody, vehicle):
    other = car(client, name="Otto")
    fitment(client, other, "v_belt", "2016-01-01")
    own = fitment(client, vehicle, "v_belt", "2016-01-01")
    assert set(events(nobody, subscribe(client, vehicle_id=vehicle)["address"])) == {own}
    assert len(events(nobody, subscribe(client)["address"])) == 2


def test_another_fleet_sees_nothing_of_it(client, stranger, nobody, vehicle):
    fitment(client, vehicle, "v_belt", "2016-01-01")
    made_here = subscribe(client)
    assert events(nobody, subscribe(stranger)["address"]) == {}
    for method, path in (("GET", ""), ("DELETE", ""), ("POST", "/rotation")):
        problem(stranger.request(method, f"/v1/calendar/{made_here['id']}{path}"), 404)
    problem(stranger.post("/v1/calendar", json={"vehicle_id": vehicle}), 409, "vehicle_id")


def test_a_rotated_address_opens_nothing_and_a_deleted_one_neither(client, nobody):
    first = subscribe(client, label="phone")
    second = client.post(f"/v1/calendar/{first['id']}/rotation").json()
    problem(nobody.get(first["address"]), 404)
    assert nobody.get(second["address"]).status_code == 200
    assert second["rotated_at"] is not None
    assert client.delete(f"/v1/calendar/{first['id']}").status_code == 204
    problem(nobody.get(second["address"]), 404)


def test_the_secret_is_neither_kept_nor_shown_again(service, client):
    calendar = subscribe(client, label="phone")
    secret = calendar["address"].rsplit("/", 1)[1].removesuffix(".ics")
    assert len(secret) >= 43
    with reading(service.database) as session:
        row = session.exec(select(CalendarAddress).where(CalendarAddress.id == calendar["id"])).one()
        assert secret not in row.model_dump_json()
    shown = client.get("/v1/calendar").text + client.get(f"/v1/calendar/{calendar['id']}").text
    assert secret not in shown
    assert json.loads(client.get(f"/v1/calendar/{calendar['id']}").text)["label"] == "phone"
    kept = client.post("/v1/calendar", json={}, headers={"Idempotency-Key": "a"})
    problem(kept, 422, "Idempotency-Key")


def test_the_secret_stays_out_of_the_log(client, nobody, capsys):
    from api import logs

    address = subscribe(client)["address"]
    logs.configure("info", as_json=True)
    written = ""
    try:
        nobody.get(address)
        give_up = time.monotonic() + 10  # the line is written after the answer has gone
        while "/calendar/" not in written.replace("/v1/calendar", "") and time.monotonic() < give_up:
            time.sleep(0.02)
            written += capsys.readouterr().err
    finally:
        logs.configure("warning", as_json=True)
    assert "/calendar/…" in written or "/calendar/\\u2026" in written
    assert address.rsplit("/", 1)[1] not in written


def test_hostile_names_add_no_lines(client, nobody):
    vehicle = car(client, name=HOSTILE)
    part = fitment(client, vehicle, "v_belt", "2016-01-01", position="x\x1b]0;y\x07")
    address = subscribe(client, label=HOSTILE)["address"]
    read = Calendar.from_ical(text_of(nobody, address))
    (event,) = read.walk("VEVENT")
    assert str(event["UID"]).startswith(part)
    assert "X-EVIL" not in read
    assert "X-EVIL" not in event
    assert "\x1b" not in str(event["SUMMARY"])
    assert b"\x1b" not in text_of(nobody, address)


def test_very_long_text_is_cut_and_folded():
    from api.calendar.entries import Entry

    now = datetime(2026, 5, 1, tzinfo=UTC)
    entry = Entry("a@b", date(2026, 5, 1), "ü" * 5_000, "line\n" * 10, 3, now, now, cancelled=False)
    text = feed.written("n", [entry])
    assert all(len(line) <= 75 for line in text.split(b"\r\n"))
    (event,) = Calendar.from_ical(text).walk("VEVENT")
    assert len(str(event["SUMMARY"])) == 2_000


def test_a_calendar_is_read_with_everything_that_fits_taken_away(client, nobody, vehicle, monkeypatch):
    fitment(client, vehicle, "v_belt", "2016-01-01")
    address = subscribe(client)["address"]
    before = text_of(nobody, address)

    def forbidden(*_args, **_options):
        raise AssertionError("a read worked something out that it should have found")

    for place, name in (
        (tables, "make"),
        (book_lives, "book_life"),
        (gather, "cars"),
        (keep, "replan"),
    ):
        monkeypatch.setattr(place, name, forbidden)
    assert text_of(nobody, address) == before


@pytest.mark.parametrize(
    ("body", "field"),
    [({"label": "x" * 201}, "label"), ({"vehicle_id": ""}, "vehicle_id"), ({"colour": "red"}, "colour")],
)
def test_a_malformed_body_is_refused(client, body, field):
    problem(client.post("/v1/calendar", json=body), 422, field)
