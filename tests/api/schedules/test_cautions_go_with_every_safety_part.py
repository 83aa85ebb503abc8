"""Wherever the service names a safety part, its cautions and what it defers to stand beside it."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from email import message_from_bytes, policy

import icalendar
import pytest

from api.digests.schemas import DigestOut
from api.mail import message as mails
from api.mail.message import message
from api.schedules.answers import DEFERENCE, cautions_of
from planner.catalogue import load_catalogue
from tests.api.history.making import car, fitment, made, odometer

TODAY = datetime.now(UTC).date()
SAFETY = ("brake_hose", "tyres", "timing_belt", "brake_fluid")


@pytest.fixture
def vehicle(client):
    """A car full of overdue safety parts; one put off, one found worn."""
    found = car(client, distance_unit="km", built="1972")
    for year in range(2018, TODAY.year + 1):
        odometer(client, found, f"{year}-01-01", 60_000 + 4_000 * (year - 2018), "km", dial_digits=6)
    parts = [fitment(client, found, kind, "2015-06-01") for kind in SAFETY]
    fitment(client, found, "rotor_arm", "2015-06-01")
    body = {"until": (TODAY + timedelta(days=900)).isoformat(), "reason": "in spring"}
    made(client.post(f"/v1/fitments/{parts[0]}/put-off", json=body))
    looked = {"inspected_on": TODAY.isoformat(), "finding": "worn to limit"}
    made(client.post(f"/v1/fitments/{parts[1]}/inspections", json=looked))
    return found


def answers(client, fleet, vehicle) -> Iterator[tuple[str, dict]]:
    """Every JSON answer that names parts of a plan."""
    here = f"/v1/vehicles/{vehicle}"
    fitments = client.get(f"{here}/fitments").json()["items"]
    safe = next(one["id"] for one in fitments if one["kind"] == "brake_hose")
    tour = {"distance": 4_000, "days": 21}
    paths = [
        ("/v1/due-soon", {}),
        (f"{here}/due-soon", {}),
        (f"{here}/schedule", {}),
        (f"{here}/visits", {}),
        (f"{here}/visits", {"most_money": 1, "most_hours": 0.1}),
        (f"{here}/risk", {"days": 90, "distance": 9_000}),
        (f"{here}/tour-risk", tour),
        (f"{here}/policies", {}),
        ("/v1/parts-to-order", {}),
        (f"/v1/fitments/{safe}/put-off", {}),
    ]
    for path, query in paths:
        yield path, client.get(path, params=query).raise_for_status().json()
    yield "digest", digest(client, fleet)
    offered = {
        "built": "1972",
        "odometer": {"value": 96_000, "unit": "km"},
        "per_year": {"value": 4_000, "unit": "km"},
    }
    yield "buying", client.post("/v1/buying-lists", json=offered).raise_for_status().json()
    rule = client.post("/v1/part-kinds/brake_hose/rules").raise_for_status()
    fleet.wait_for_job(rule.headers["Location"])
    yield "rule", client.get("/v1/part-kinds/brake_hose/rule").raise_for_status().json()


def digest(client, fleet):
    job = client.post("/v1/digests").raise_for_status()
    week = fleet.wait_for_job(job.headers["Location"])["result"]["week"]
    return client.get(f"/v1/digests/{week}").raise_for_status().json()


def parts_named(answer, path="") -> Iterator[tuple[str, dict]]:
    """Every object that names a part: by kind, or by what it is called."""
    if isinstance(answer, dict):
        if isinstance(answer.get("part"), str):
            yield path, answer
        for name, value in answer.items():
            yield from parts_named(value, f"{path}.{name}")
    elif isinstance(answer, list):
        for number, value in enumerate(answer):
            yield from parts_named(value, f"{path}[{number}]")


def kind_of(named):
    catalogue = load_catalogue()
    if "kind" in named:
        return catalogue[named["kind"]]
    return next(kind for kind in catalogue.values() if kind.name_gb == named["part"])


def test_every_answer_names_safety_parts_with_their_cautions(client, fleet, vehicle):
    seen = {}
    for path, answer in answers(client, fleet, vehicle):
        found = [(where, one) for where, one in parts_named(answer) if kind_of(one).safety]
        seen[path] = seen.get(path, 0) + len(found)
        for where, one in found:
            if where.startswith(".done"):
                continue  # work that is over
            about = one if "cautions" in one else visit_of(answer, where)
            assert about["cautions"], (path, where, one)
            assert set(cautions_of(kind_of(one))) <= set(about["cautions"]), (path, where)
            assert DEFERENCE in about["cautions"], (path, where)
            assert one.get("safety", True) is True, (path, where)
    assert all(seen.values()), {path: count for path, count in seen.items() if not count}


def visit_of(answer, where):
    """A job of a visit: the cautions of all its jobs stand with the visit."""
    assert where.startswith(".visits["), where
    return answer["visits"][int(where[len(".visits[") : where.index("]")])]


def test_the_calendar_says_what_to_mind(client, fleet, vehicle):
    address = made(client.post("/v1/calendar", json={"label": "workshop"}))["address"]
    feed = icalendar.Calendar.from_ical(client.get(address).raise_for_status().content)
    events = [event for event in feed.walk("VEVENT") if "nothing to do" not in event["SUMMARY"]]
    for kind in (load_catalogue()[name] for name in SAFETY):
        event = next(one for one in events if kind.name_gb in one["SUMMARY"])
        assert all(caution in event["DESCRIPTION"] for caution in cautions_of(kind))
    arm = next(one for one in events if "rotor arm" in one["SUMMARY"])
    assert DEFERENCE not in arm["DESCRIPTION"]


def test_the_mail_says_what_to_mind_in_text_and_in_html(client, fleet, vehicle):
    sent = message(
        DigestOut.model_validate(digest(client, fleet)),
        fleet_name="one",
        calendar=b"",
        sender="post@garage.example",
        address="keeper@garage.example",
        identity="one",
        pages="",
    )
    mail = message_from_bytes(bytes(sent), policy=policy.default)
    text = " ".join(mail.get_body(("plain",)).get_content().split())
    html = " ".join(mail.get_body(("html",)).get_content().split())
    for name in SAFETY:
        for caution in cautions_of(load_catalogue()[name]):
            assert caution in text, name
    assert text.count(DEFERENCE) == len(SAFETY)
    assert "licensed workshop" in html


def test_a_short_mail_still_names_every_safety_part(client, fleet, vehicle, monkeypatch):
    monkeypatch.setattr(mails, "MOST_LINES", 1)
    said = DigestOut.model_validate(digest(client, fleet))
    there = {
        "sender": "post@garage.example",
        "address": "keeper@garage.example",
        "identity": "one",
        "pages": "",
    }
    sent = message_from_bytes(bytes(message(said, "one", b"", **there)), policy=policy.default)
    cut_off = [one.part for one in said.still_due.items[1:] if one.safety]
    assert len(cut_off) >= 2
    for kind in ("plain", "html"):
        text = " ".join(sent.get_body((kind,)).get_content().lower().split())
        passage = text.split("safety parts among those")[1].split("what to mind")[0]
        assert not [part for part in cut_off if part not in passage], kind
    fewer = said.still_due.model_copy(update={"items": [], "count": 3, "safety": 2})
    sent = message(said.model_copy(update={"still_due": fewer}), "one", b"", **there)
    assert "2 more safety parts" in sent.get_body(("plain",)).get_content()


def test_the_wrong_answer_would_be_seen(client, fleet, vehicle):
    answer = client.get(f"/v1/vehicles/{vehicle}/schedule").raise_for_status().json()
    hose = next(one for one in answer["items"] if one["kind"] == "brake_hose")
    assert DEFERENCE not in load_catalogue()["brake_hose"].cautions
    assert DEFERENCE in hose["cautions"]
    assert DEFERENCE not in next(one for one in answer["items"] if one["kind"] == "rotor_arm")["cautions"]
