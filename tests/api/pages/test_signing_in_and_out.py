"""Sessions: begun with a key, ended by time, by revoking and by hand; never another fleet's, never elsewhere."""

import datetime as dt

import pytest
import time_machine

from api.pages import sessions
from tests.api.pages.visiting import Visitor


def cookie_header(answer):
    return next(value for value in answer.headers.get_list("set-cookie") if value.startswith(sessions.COOKIE))


def test_a_key_opens_the_pages_and_is_never_in_the_cookie(service, fleet, stranger_at_the_door):
    page = stranger_at_the_door.sign_in(fleet.keys["read"])
    assert (page.status, page.path) == (200, "/pages")
    secret = fleet.keys["read"].rpartition("_")[2]
    assert secret not in stranger_at_the_door.http.cookies[sessions.COOKIE]


def test_the_cookie_is_for_the_pages_alone_and_out_of_reach_of_scripts(stranger_at_the_door):
    header = cookie_header(stranger_at_the_door.get("/pages/sign-in").answer).lower()
    assert "httponly" in header
    assert "samesite=lax" in header
    assert "path=/pages" in header
    assert "secure" not in header, "plain HTTP here"


def test_over_https_the_cookie_is_for_https_only(service):
    from fastapi import Request, Response

    scope = {
        "type": "http",
        "scheme": "https",
        "path": "/pages",
        "headers": [(b"host", b"x")],
        "app": service.app,
        "server": ("x", 443),
        "query_string": b"",
    }
    response = Response()
    sessions.remember(Request(scope), response, sessions.Visit.begin())
    assert "secure" in response.headers["set-cookie"].lower()


@pytest.mark.parametrize("key", ["", "ww_", "ww_000000000000_" + "0" * 64, "<script>", "ключ"])
def test_a_key_that_opens_nothing_is_told_so(stranger_at_the_door, key):
    page = stranger_at_the_door.sign_in(key)
    assert page.status == 422
    assert "opens nothing" in page.text
    assert stranger_at_the_door.get("/pages/cars").path.startswith("/pages/sign-in")


def test_afterwards_one_is_where_one_was(fleet, stranger_at_the_door, car):
    page = stranger_at_the_door.get(f"/pages/cars/{car}?as_of=2026-01-01")
    assert page.path.startswith("/pages/sign-in")
    page = stranger_at_the_door.post("/pages/sign-in", {**page.fields, "key": fleet.keys["read"]})
    assert page.path == f"/pages/cars/{car}?as_of=2026-01-01"


@pytest.mark.parametrize(
    "back",
    [
        "https://example.org/",
        "//example.org",
        "/pages\\@example.org",
        "/v1/vehicles",
        "/pagesx",
        "/pages/\nx",
    ],
)
def test_nobody_is_led_elsewhere(fleet, stranger_at_the_door, back):
    page = stranger_at_the_door.get("/pages/sign-in")
    page = stranger_at_the_door.post(
        "/pages/sign-in", {**page.fields, "back": back, "key": fleet.keys["read"]}
    )
    assert page.path == "/pages"


def test_a_forged_or_garbled_cookie_is_nobodys(service, fleet, keeper):
    good = keeper.http.cookies[sessions.COOKIE]
    content, _, signature = good.partition(".")
    for cookie in (
        content,
        f"{content}.",
        f"{content}.{'0' * 64}",
        f"{content[:-4]}AAAA.{signature}",
        "é.é",
        "." + signature,
        "x" * 3000,
    ):
        forger = Visitor(service.base_url)
        answer = forger.http.get(
            "/pages",
            headers={"Cookie": f"{sessions.COOKIE}={cookie}".encode("latin-1")},
            follow_redirects=False,
        )
        assert answer.status_code == 303, cookie
    assert keeper.get("/pages").path == "/pages"


def test_a_session_ends_after_a_fortnight(keeper):
    with time_machine.travel(dt.datetime.now(dt.UTC) + dt.timedelta(days=13, hours=23), tick=True):
        assert keeper.get("/pages/kinds").path == "/pages/kinds"
    with time_machine.travel(dt.datetime.now(dt.UTC) + dt.timedelta(days=14, minutes=1), tick=True):
        keeper.http.cookies.jar.clear_expired_cookies = lambda: None
        assert keeper.get("/pages/kinds").path.startswith("/pages/sign-in")


def test_revoking_a_key_ends_its_sessions(service, fleet, admin):
    made = admin.post("/v1/keys", json={"scope": "write", "label": "telephone"})
    visitor = Visitor(service.base_url)
    assert visitor.sign_in(made.json()["key"]).path == "/pages"
    assert admin.delete(f"/v1/keys/{made.json()['id']}", headers={"If-Match": "*"}).status_code == 204
    assert visitor.get("/pages").path.startswith("/pages/sign-in")


def test_signing_out_ends_it_here_and_another_sites_form_ends_nothing(keeper):
    token = keeper.get("/pages").fields["form_token"]
    keeper.post("/pages/sign-out", {"form_token": "0" * 64})
    assert keeper.get("/pages").path == "/pages"
    keeper.post("/pages/sign-out", {"form_token": token})
    assert keeper.get("/pages").path.startswith("/pages/sign-in")


def test_a_copy_of_the_cookie_opens_nothing_after_signing_out(service, keeper, fleet):
    copied = keeper.http.cookies[sessions.COOKIE]
    thief = Visitor(service.base_url)
    thief.http.headers["Cookie"] = f"{sessions.COOKIE}={copied}"
    assert thief.get("/pages/cars").path == "/pages/cars", "before, the copy is as good as the cookie"
    keeper.post("/pages/sign-out", {"form_token": keeper.get("/pages").fields["form_token"]})
    assert thief.http.get("/pages/cars", follow_redirects=False).status_code == 303
    again = Visitor(service.base_url)
    assert again.sign_in(fleet.keys["write"]).path == "/pages", "the key itself is as good as before"


def test_the_session_changes_with_the_sign_in(fleet, stranger_at_the_door):
    stranger_at_the_door.get("/pages/sign-in")
    before = stranger_at_the_door.http.cookies[sessions.COOKIE]
    stranger_at_the_door.sign_in(fleet.keys["read"])
    assert stranger_at_the_door.http.cookies[sessions.COOKIE] != before


def test_a_sign_in_form_of_another_visit_signs_nobody_in(service, fleet):
    page = Visitor(service.base_url).get("/pages/sign-in")
    victim = Visitor(service.base_url)
    found = victim.post("/pages/sign-in", {**page.fields, "key": fleet.keys["write"]})
    assert found.status == 422
    assert victim.get("/pages").path.startswith("/pages/sign-in")


def test_a_cookie_opens_no_json(keeper):
    assert keeper.http.get("/v1/vehicles").status_code == 401
    cookie = {"Cookie": f"{sessions.COOKIE}={keeper.http.cookies[sessions.COOKIE]}"}
    assert keeper.http.get("/v1/vehicles", headers=cookie).status_code == 401


def test_who_may_only_read_gets_no_forms(onlooker, car, part):
    for path in ("/pages/new-car", f"/pages/cars/{car}/reading", f"/pages/parts/{part}/removal"):
        page = onlooker.get(path)
        assert page.status == 403
        assert "needs scope write" in page.text
    shown = onlooker.get(f"/pages/cars/{car}")
    assert shown.status == 200
    assert not [a for tag, a in shown.elements if tag == "a" and a["href"].endswith(("/reading", "/removal"))]
    token = shown.fields["form_token"]
    assert (
        onlooker.post(f"/pages/cars/{car}/reading", {"form_token": token, "read_on": "2025-01-01"}).status
        == 403
    )


def test_another_fleets_car_is_not_there(service, car, part):
    other = Visitor(service.base_url)
    other.sign_in(service.fleet().keys["admin"])
    for path in (
        f"cars/{car}",
        f"parts/{part}",
        f"cars/{car}/timeline.svg",
        f"parts/{part}/life.svg",
        f"cars/{car}/reading",
        f"parts/{part}/removal",
    ):
        assert other.get(f"/pages/{path}").status == 404, path
    page = other.get("/pages/new-car")
    sent = other.post(
        f"/pages/cars/{car}/reading",
        {**page.fields, "read_on": "2025-01-01", "reading.value": "60000", "reading.unit": "mi"},
    )
    assert sent.status == 404
