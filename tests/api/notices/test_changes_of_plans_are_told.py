"""What happens to plans is told in the transaction that makes it happen: entered, left, changed; each change once."""

from datetime import UTC, datetime, timedelta

import pytest
from sqlmodel import select

from api.jobs import Sessions
from api.notices import due_soon
from api.storage.session import reading, writing
from api.storage.tables import DueSoonTold, Forecast, WebhookEvent
from tests.api.faults.cases import opened
from tests.api.history.making import car, fitment, odometer, refit, removal, settle

TODAY = datetime.now(UTC).date()
OLD, NEW = "2004-05-01", (TODAY - timedelta(days=30)).isoformat()
KIND = "v_belt"


def due_list(client):
    return {item["fitment_id"] for item in client.get("/v1/due-soon").raise_for_status().json()["items"]}


def told(service, fleet):
    with reading(service.database) as session:
        return set(session.exec(select(DueSoonTold.id).where(DueSoonTold.fleet_id == fleet.id)))


def test_a_part_that_is_due_when_it_is_entered(client, listen, service, fleet):
    vehicle = car(client, external_ref="erp-car-7")
    since = listen()
    part = fitment(client, vehicle, KIND, OLD, external_ref="erp-part-9")
    assert due_list(client) == {part}
    (changed, dates), (entered, data) = since()
    assert (changed, entered) == ("schedule.changed", "due_soon.entered")
    assert dates == {
        "because": "records",
        "vehicles": [
            {
                "vehicle_id": vehicle,
                "name": "Ida",
                "external_ref": "erp-car-7",
                "schedule": f"/v1/vehicles/{vehicle}/schedule",
            }
        ],
    }
    assert data["within_days"] == 90
    (shown,) = data["parts"]
    item = client.get("/v1/due-soon").json()["items"][0]
    assert (shown["vehicle_id"], shown["fitment_id"], shown["kind"]) == (vehicle, part, KIND)
    assert (shown["vehicle_external_ref"], shown["fitment_external_ref"]) == ("erp-car-7", "erp-part-9")
    assert shown["due_likely"] == item["window"]["likely"]
    assert shown["do_not_drive"] is None
    assert told(service, fleet) == {part}


def test_an_event_says_that_nobody_should_drive_the_car(client, listen):
    vehicle = car(client)
    fitment(client, vehicle, "brake_hose", OLD)
    opened(client, vehicle, complaint="sinking_pedal")
    since = listen("due_soon.entered")
    fitment(client, vehicle, KIND, OLD)
    ((_, data),) = since()
    assert data["parts"][0]["do_not_drive"].startswith("Do not drive Ida: ")


def test_a_part_that_is_not_due_yet_only_changes_the_schedule(client, listen):
    vehicle = car(client)
    since = listen()
    fitment(client, vehicle, KIND, NEW)
    assert [kind for kind, _ in since()] == ["schedule.changed"]


def test_a_renewed_part_leaves(client, listen, service, fleet):
    vehicle = car(client)
    part = fitment(client, vehicle, KIND, OLD)
    since = listen("due_soon.entered", "due_soon.left")
    removal(client, part, NEW, "preventive")
    ((kind, data),) = since()
    assert kind == "due_soon.left"
    (shown,) = data["parts"]
    assert (shown["fitment_id"], shown["because"], shown["due_likely"]) == (
        part,
        "no longer in service",
        None,
    )
    assert told(service, fleet) == set()


@pytest.mark.parametrize("gone", ["fitment", "vehicle"])
def test_what_is_deleted_leaves(client, listen, gone):
    vehicle = car(client)
    part = fitment(client, vehicle, KIND, OLD)
    since = listen()
    path = f"/v1/fitments/{part}" if gone == "fitment" else f"/v1/vehicles/{vehicle}"
    assert client.delete(path).status_code == 204
    (changed, dates), (left, data) = since()
    assert (changed, left) == ("schedule.changed", "due_soon.left")
    assert dates["vehicles"][0]["vehicle_id"] == vehicle
    assert data["parts"][0]["fitment_id"] == part


def test_a_removal_taken_back_brings_the_part_back(client, listen):
    vehicle = car(client)
    part = fitment(client, vehicle, KIND, OLD)
    removal(client, part, NEW, "preventive")
    since = listen("due_soon.entered", "due_soon.left")
    assert client.delete(f"/v1/fitments/{part}/removal").status_code == 204
    ((kind, data),) = since()
    assert (kind, data["parts"][0]["fitment_id"]) == ("due_soon.entered", part)


def test_what_changes_no_date_tells_nothing(client, listen):
    vehicle = car(client)
    fitment(client, vehicle, KIND, OLD)
    since = listen()
    tag = client.get(f"/v1/vehicles/{vehicle}").headers["etag"]
    client.patch(
        f"/v1/vehicles/{vehicle}", json={"name": "Ada"}, headers={"If-Match": tag}
    ).raise_for_status()
    assert since() == []


def test_what_is_refused_tells_nothing(client, listen):
    vehicle = car(client)
    odometer(client, vehicle, "2020-05-01", 50_000)
    since = listen()
    falls = {"read_on": "2021-05-01", "reading": {"value": 40_000, "unit": "km"}}
    assert client.post(f"/v1/vehicles/{vehicle}/odometer-readings", json=falls).status_code == 409
    assert since() == []


def test_what_was_due_before_anybody_listened_is_not_news(client, listen, service, fleet):
    vehicle = car(client)
    part = fitment(client, vehicle, KIND, OLD)
    assert told(service, fleet) == set()
    since = listen("due_soon.entered", "due_soon.left")
    assert told(service, fleet) == {part}
    other = fitment(client, vehicle, KIND, OLD, position="rear")
    ((kind, data),) = since()
    assert (kind, [one["fitment_id"] for one in data["parts"]]) == ("due_soon.entered", [other])


def test_a_second_listener_changes_nothing_for_the_first(client, listen):
    vehicle = car(client)
    first = listen("due_soon.entered")
    fitment(client, vehicle, KIND, OLD)
    second = listen("due_soon.entered", "due_soon.left")
    other = fitment(client, vehicle, KIND, OLD, position="rear")
    assert [len(data["parts"]) for _, data in first()] == [1, 1]
    assert [[one["fitment_id"] for one in data["parts"]] for _, data in second()] == [[other]]


def test_nobody_listens_and_nothing_is_written(client, service, fleet):
    fitment(client, car(client), KIND, OLD)
    with reading(service.database) as session:
        assert session.exec(select(WebhookEvent).where(WebhookEvent.fleet_id == fleet.id)).all() == []
    assert told(service, fleet) == set()


def test_a_new_model_is_told_with_the_cars_whose_dates_it_moved(client, fleet, listen):
    parts = []
    for number in range(3):
        vehicle = car(client, name=f"car {number}")
        for year in range(2015, 2026):
            odometer(client, vehicle, f"{year}-09-01", 50_000 + 9_000 * (year - 2015), dial_digits=6)
        worn = fitment(client, vehicle, "damper", "2016-09-01", 59_000)
        removal(client, worn, "2017-09-01", "failed, confirmed", 68_000)
        parts.append(fitment(client, vehicle, "damper", "2025-08-01"))
    since = listen()
    result = refit(fleet, client, "damper")["result"]
    kinds = [kind for kind, _ in events] if (events := since()) else []
    assert kinds[:2] == ["model.changed", "schedule.changed"]
    model, dates = events[0][1], events[1][1]
    assert (model["model_id"], model["kind"], model["failures"]) == (result["model_id"], "damper", 3)
    assert dates["because"] == "model"
    assert len(dates["vehicles"]) == 3
    assert set(kinds[2:]) <= {"due_soon.entered", "due_soon.left"}
    assert refit(fleet, client, "damper")["result"]["changed"] is False
    assert since() == []


def test_new_terms_are_told_as_settings(client, fleet, listen):
    fitment(client, car(client), KIND, NEW)
    since = listen()
    settle(fleet, client.put(f"/v1/part-kinds/{KIND}/settings", json={"cap": {"years": 0.2}}))
    events = dict(since())
    assert events["schedule.changed"]["because"] == "settings"
    assert len(events["due_soon.entered"]["parts"]) == 1


def test_a_digest_is_told_once(client, fleet, listen):
    since = listen("digest.ready")
    for _ in range(2):
        made = fleet.wait_for_job(client.post("/v1/digests").headers["Location"])
    ((kind, data),) = since()
    assert kind == "digest.ready"
    assert data["digest"] == made["result"]["digest"]
    assert client.get(data["digest"]).json()["as_of"] == data["as_of"]


def test_many_parts_come_in_events_of_a_bounded_size(client, fleet, listen, service, monkeypatch):
    monkeypatch.setattr(due_soon, "PARTS_IN_ONE_EVENT", 2)
    since = listen("due_soon.entered")
    vehicle = car(client)
    with writing(service.database) as session:
        for position in "abcde":
            part = fitment_row(fleet, vehicle, position)
            session.add(part)
            session.flush()
            session.add(forecast_row(fleet, vehicle, part))
    due_soon.compare_fleet(Sessions(service.database), fleet.id)
    assert [len(data["parts"]) for _, data in since()] == [2, 2, 1]
    due_soon.compare_fleet(Sessions(service.database), fleet.id)
    assert since() == []


def fitment_row(fleet, vehicle, position):
    from api.storage.tables import Fitment

    return Fitment(fleet_id=fleet.id, vehicle_id=vehicle, kind=KIND, position=position)


def forecast_row(fleet, vehicle, part):
    return Forecast(
        fleet_id=fleet.id, fitment_id=part.id, vehicle_id=vehicle, kind=KIND, due_likely=TODAY,
        decides="age", as_of=TODAY, reason="", coefficients={},
    )  # fmt: skip
