"""Digests go out at their hour over a real SMTP server, are read back by Python's parser, and are never lost."""

import email
import email.policy
import re
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from icalendar import Calendar

from api.mail import clock, delivery
from api.storage.types import utc_now
from tests.api.history.making import car, fitment, made, odometer, problem

ADDRESS = "keeper@garage.example"
HOSTILE = "Ida <script>alert(1)</script>\r\nBcc: thief@evil.example\r\n\r\n</mj-text><mj-raw>{{7*7}} & \u202e"


@pytest.fixture
def vehicle(client):
    found = car(client, name="Ida")
    odometer(client, found, "2024-09-01", 70_000)
    fitment(client, found, "brake_hose", "2010-09-01", position="front left")
    return found


def subscribe(client, **body):
    return made(client.post("/v1/digest-subscriptions", json={"address": ADDRESS} | body))


def next_week(hour=6):
    """Next Monday at an hour in London."""
    here = datetime.now(ZoneInfo("Europe/London"))
    monday = here.date() + timedelta(days=7 - here.weekday())
    return datetime(monday.year, monday.month, monday.day, hour, 30, tzinfo=ZoneInfo("Europe/London"))


def tick(service, fleet, client, now):
    """Look at the clock as if it were then; the fleet's mail jobs once they have ended, latest first."""
    clock.tick(service.database, now)
    found = [one for one in client.get("/v1/jobs").json()["items"] if one["kind"] == "digest mail"]
    return [fleet.wait_for_job(f"/v1/jobs/{one['id']}") for one in found]


def parsed(content):
    return email.message_from_bytes(content, policy=email.policy.default)


def parts_of(mail):
    return {part.get_content_type(): part for part in mail.walk() if not part.is_multipart()}


def test_a_digest_goes_out_once_at_its_hour(service, fleet, client, vehicle, sending, post_office):
    subscription = subscribe(client, weekday=1, hour=6)
    assert tick(service, fleet, client, next_week(5)) == []
    (job,) = tick(service, fleet, client, next_week(6))
    assert (job["state"], job["result"]) == ("succeeded", {"sent": True, "tries": 1}), job
    assert len(tick(service, fleet, client, next_week(7))) == 1
    ((sender, to, content, encrypted),) = [one for one in post_office.handler.got if one[1] == [ADDRESS]]
    assert (sender, to, encrypted) == ("digest@cars.example", [ADDRESS], True)
    mail = parsed(content)
    assert mail.defects == []
    assert mail["To"] == ADDRESS
    assert mail["Subject"].startswith("Week ")
    shown = client.get(f"/v1/digest-subscriptions/{subscription['id']}").json()["latest"]
    assert (shown["attempts"], shown["problem"], shown["next_try_at"]) == (1, None, None)
    assert shown["sent_at"] is not None
    assert client.get(f"/v1/digests/{shown['week']}").status_code == 200


def test_text_html_picture_and_calendar_say_the_same(service, fleet, client, vehicle, sending, post_office):
    subscribe(client)
    tick(service, fleet, client, next_week())
    mail = parsed(post_office.handler.got[0][2])
    parts = parts_of(mail)
    assert set(parts) == {"text/plain", "text/html", "image/png", "text/calendar"}
    text, html = parts["text/plain"].get_content(), parts["text/html"].get_content()
    for said in ("DUE FOR LONGER (1)", "Ida: flexible brake hose, front left [safety part]"):
        assert said in text
    for said in ("Due for longer (1)", "Flexible brake hose, front left", "[safety part]"):
        assert said in html
    for body in (text, html):
        assert "no inspection" in body
        assert "wanted now: " in body
        assert "order at once" in body
        assert "Rubber ages on the shelf" in body
        assert f"https://cars.example/pages/cars/{vehicle}/reading" in body
    (picture_id,) = re.findall(r'src="cid:([^"]+)"', html)
    assert parts["image/png"]["Content-ID"] == f"<{picture_id}>"
    assert parts["image/png"].get_content().startswith(b"\x89PNG")
    calendar = Calendar.from_ical(parts["text/calendar"].get_content())
    assert "brake hose" in str(calendar.walk("VEVENT")[0]["SUMMARY"])
    assert parts["text/calendar"].get_filename() == "due-work.ics"
    for address in re.findall(r'(?:href|src)="([^"]*)"', html):
        assert address.startswith(("https://cars.example/", "cid:")), address


def test_hostile_names_are_inert(service, fleet, client, sending, post_office):
    other = car(client, name=HOSTILE)
    part = fitment(client, other, "v_belt", "2010-09-01", position=HOSTILE[:80])
    made(client.post(f"/v1/fitments/{part}/put-off", json={"until": None, "reason": HOSTILE}))
    subscribe(client)
    (job,) = tick(service, fleet, client, next_week())
    assert job["state"] == "succeeded", job
    ((_, to, content, _),) = post_office.handler.got
    mail = parsed(content)
    assert to == [ADDRESS]
    assert mail["Bcc"] is None
    html = parts_of(mail)["text/html"].get_content()
    assert "<script" not in html
    assert "&lt;script&gt;" in html
    assert "{{7*7}}" in html
    assert "\u202e" not in html
    assert "\n\nBcc:" not in parts_of(mail)["text/plain"].get_content()


def test_a_server_that_is_busy_is_tried_again_in_the_same_job(
    service, fleet, client, vehicle, sending, post_office
):
    subscribe(client)
    post_office.handler.answers = ["451 busy", "451 busy"]
    (job,) = tick(service, fleet, client, next_week())
    assert (job["state"], job["result"]) == ("succeeded", {"sent": True, "tries": 3})
    assert len(post_office.handler.got) == 1


def test_a_dead_server_is_shown_and_the_mail_goes_out_later(
    service, fleet, client, vehicle, sending, post_office
):
    subscription = subscribe(client)
    sending(smtp_port=1)
    (job,) = tick(service, fleet, client, next_week())
    assert job["state"] == "failed"
    assert "could not be used" in job["problem"]["detail"]
    assert "try 3 failed" in job["progress"]["doing"]
    shown = client.get(f"/v1/digest-subscriptions/{subscription['id']}").json()["latest"]
    assert (shown["attempts"], shown["sent_at"]) == (3, None)
    assert datetime.fromisoformat(shown["next_try_at"]) > utc_now()
    sending()
    again = tick(service, fleet, client, utc_now() + timedelta(minutes=6))
    assert [one["state"] for one in again] == ["succeeded", "failed"]
    assert len(post_office.handler.got) == 1
    assert len(tick(service, fleet, client, utc_now() + timedelta(days=2))) == 2


def test_a_process_that_dies_in_mid_mail_sends_it_again_under_the_same_name(
    service, fleet, client, vehicle, sending, post_office, monkeypatch
):
    subscription = subscribe(client)
    ends = delivery._end

    def die_once(*arguments):
        monkeypatch.setattr(delivery, "_end", ends)
        raise RuntimeError("the process died after the server had taken the mail")

    monkeypatch.setattr(delivery, "_end", die_once)
    (job,) = tick(service, fleet, client, next_week())
    assert job["state"] == "failed"
    shown = client.get(f"/v1/digest-subscriptions/{subscription['id']}").json()["latest"]
    assert (shown["attempts"], shown["sent_at"]) == (1, None)
    assert "not known" in shown["problem"], "the try without an end is in sight"
    again = tick(service, fleet, client, next_week() + clock.GRACE + timedelta(minutes=1))
    assert [one["state"] for one in again] == ["succeeded", "failed"]
    first, second = (parsed(content) for _, _, content, _ in post_office.handler.got)
    assert first["Message-ID"] == second["Message-ID"]
    shown = client.get(f"/v1/digest-subscriptions/{subscription['id']}").json()["latest"]
    assert (shown["attempts"], shown["problem"], shown["sent_at"] is None) == (2, None, False)


def test_an_address_refused_for_good_is_not_tried_again(
    service, fleet, client, vehicle, sending, post_office
):
    subscription = subscribe(client)
    post_office.handler.answers = ["550 no such mailbox"]
    (job,) = tick(service, fleet, client, next_week())
    assert "no such mailbox" in job["problem"]["detail"]
    shown = client.get(f"/v1/digest-subscriptions/{subscription['id']}").json()["latest"]
    assert (shown["attempts"], shown["next_try_at"]) == (1, None)
    assert len(tick(service, fleet, client, utc_now() + timedelta(days=1))) == 1


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"smtp_host": None, "mail_from": None}, "set WEARWRIGHT_SMTP_HOST and WEARWRIGHT_MAIL_FROM"),
        ({"smtp_password": "wrong"}, "535"),
        ({"smtp_ca_file": None}, "certificate"),
        ({"smtp_starttls": False}, "needs an encrypted connection"),
        ({"smtp_starttls": False, "smtp_user": None}, "STARTTLS"),
    ],
)
def test_a_wrong_setting_is_a_clear_problem(
    service, fleet, client, vehicle, sending, post_office, changes, said
):
    subscribe(client)
    sending(**changes)
    (job,) = tick(service, fleet, client, next_week())
    assert job["state"] == "failed"
    assert said in job["problem"]["detail"]
    assert "a password of the mail server" not in str(job)
    assert post_office.handler.got == []


def test_two_clocks_begin_a_delivery_once(service, fleet, client, vehicle, sending, post_office):
    subscribe(client)
    now = next_week()
    first = clock.tick(service.database, now)
    assert (first >= 1, clock.tick(service.database, now)) == (True, 0)
    assert len(tick(service, fleet, client, now)) == 1


def test_without_a_mail_server_the_subscription_says_so(client):
    shown = subscribe(client)
    assert shown["hindrance"] == "No mail server is set: set WEARWRIGHT_SMTP_HOST and WEARWRIGHT_MAIL_FROM."


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"address": "keeper"}, "address"),
        ({"address": "a@b.example\r\nBcc: c@d.example"}, "address"),
        ({"address": "Ida <a@b.example>"}, "address"),
        ({"address": "a@b.example, c@d.example"}, "address"),
        ({"weekday": 0}, "weekday"),
        ({"weekday": 8}, "weekday"),
        ({"hour": 24}, "hour"),
        ({"hour": True}, "hour"),
    ],
)
def test_a_malformed_subscription_is_refused(client, body, field):
    problem(client.post("/v1/digest-subscriptions", json={"address": ADDRESS} | body), 422, field)


def test_an_address_subscribes_once_and_another_fleet_sees_nothing(client, stranger):
    one = subscribe(client)
    problem(client.post("/v1/digest-subscriptions", json={"address": ADDRESS}), 409, "address")
    problem(stranger.get(f"/v1/digest-subscriptions/{one['id']}"), 404)
    assert stranger.get("/v1/digest-subscriptions").json()["items"] == []
    assert client.delete(f"/v1/digest-subscriptions/{one['id']}").status_code == 204
    problem(client.get(f"/v1/digest-subscriptions/{one['id']}"), 404)
