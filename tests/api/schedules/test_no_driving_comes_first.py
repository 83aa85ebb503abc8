"""An open case with which nobody should drive is named first in every answer about its car, even where nothing is due."""

from icalendar import Calendar

from api.digests.content import content
from api.digests.schemas import DigestOut
from api.mail.message import message
from api.schedules import no_driving
from api.security import Principal
from api.storage.session import reading as read_only
from api.storage.tables import FaultFinding
from api.storage.types import utc_now
from tests.api.faults.cases import TODAY, car_with, closed, opened
from tests.api.history.making import made
from tests.api.pages.visiting import Visitor

ANSWERS = ("due-soon", "schedule", "risk", "tour-risk", "visits")


def answers(client, vehicle):
    """What the service says of the fleet and of each way to ask about the car, by address."""
    paths = ["/v1/due-soon", *(f"/v1/vehicles/{vehicle}/{name}" for name in ANSWERS)]
    return {path: client.get(path).raise_for_status().json() for path in paths}


def digest(fleet):
    who = Principal(fleet.id, "k", "read", "Europe/London", "GBP")
    with read_only(fleet.service.database) as session:
        return content(session, who, TODAY)


def mailed(said):
    """The subject, the text and the HTML of a digest's mail."""
    shown = DigestOut(**said.model_dump(), made_at=utc_now())
    there = {"sender": "a@b.example", "address": "c@d.example", "identity": "i", "pages": "https://e.example"}
    mail = message(shown, "Ours", b"", **there)
    parts = {part.get_content_type(): part for part in mail.walk() if not part.is_multipart()}
    return mail["Subject"], *(parts[kind].get_content() for kind in ("text/plain", "text/html"))


def described(client, nobody):
    """The only entry of the fleet's calendar: what it says, and its revision."""
    address = made(client.post("/v1/calendar", json={}))["address"]
    (event,) = Calendar.from_ical(nobody.get(address).content).walk("VEVENT")
    return str(event["DESCRIPTION"]), event["LAST-MODIFIED"].dt


def test_it_comes_first_until_the_case_is_closed(client, nobody, fleet):
    vehicle, _ = car_with(client, {"brake_hose": 1, "battery": 4})
    before = answers(client, vehicle)
    assert {len(one["do_not_drive"]) for one in before.values()} == {0}
    assert "not drive" not in " ".join(mailed(digest(fleet)))
    assert "not drive" not in described(client, nobody)[0]
    case = opened(client, vehicle, complaint="sinking_pedal")
    told = {
        "finding_id": case["id"],
        "vehicle_id": vehicle,
        "vehicle_name": before[f"/v1/vehicles/{vehicle}/risk"]["vehicle_name"],
        "complaint": case["title"],
    }
    words = f"Do not drive {told['vehicle_name']}: {case['title']}. {case['stop_driving']}"
    told["words"] = words
    for path, said in answers(client, vehicle).items():
        assert next(iter(said)) == "do_not_drive", path
        assert said["do_not_drive"] == [told], path
    parts = client.get("/v1/due-soon", params={"within_days": 3660}).json()["items"]
    assert {one["do_not_drive"] for one in parts} == {words}
    said = digest(fleet)
    assert said.model_dump()["do_not_drive"] == [told]
    assert next(iter(said.model_dump())) == "do_not_drive"
    subject, text, html = mailed(said)
    assert "do not drive 1 car" in subject
    assert text.index(words[:40]) < text.index("became due since")
    assert html.index(words[:40]) < html.index("</b> became due since")
    text, revised = described(client, nobody)
    assert text.startswith(words)
    with read_only(fleet.service.database) as session:
        assert revised == session.get(FaultFinding, case["id"]).updated_at.replace(microsecond=0)
    closed(client, case, cured=False)
    assert {len(one["do_not_drive"]) for one in answers(client, vehicle).values()} == {0}
    assert "not drive" not in " ".join(mailed(digest(fleet)))
    assert "not drive" not in described(client, nobody)[0]


def test_the_digests_page_begins_with_it_though_nothing_is_due(service, client, fleet):
    vehicle, _ = car_with(client, {"brake_hose": 1})
    case = opened(client, vehicle, complaint="sinking_pedal")
    week = fleet.wait_for_job(client.post("/v1/digests").headers["Location"])["result"]["week"]
    assert client.get(f"/v1/digests/{week}").json()["became_due"]["count"] == 0
    keeper = Visitor(service.base_url)
    assert keeper.sign_in(fleet.keys["read"]).status == 200
    text = keeper.get(f"/pages/digests/{week}").answer.text
    assert text.index(f"/pages/faults/{case['id']}") < text.index("became due since")


def test_no_car_is_left_out_where_a_list_is_full(client, fleet, monkeypatch):
    cars = {car_with(client, {"brake_hose": 1})[0] for _ in range(3)}
    for vehicle in cars:
        opened(client, vehicle, complaint="sinking_pedal")
    monkeypatch.setattr(no_driving, "MOST", 1)
    with read_only(fleet.service.database) as session:
        assert no_driving.by_car(session, fleet.id, cars).keys() == cars
        (named,) = no_driving.forbidden(session, fleet.id)
        assert "there may be more" in no_driving.more([named])[0]
