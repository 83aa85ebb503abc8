"""Events go to the public internet alone: what leads inside is refused at the registration and at every delivery."""

import asyncio
import socket
import ssl
import subprocess
from datetime import UTC, datetime

import httpx
import pytest

from api.webhooks import addresses, posting
from api.webhooks.addresses import AddressError, is_outside, target_of
from tests.api.webhooks.receiver import receiving

INSIDE = [
    *("127.0.0.1", "127.8.9.1", "0.0.0.0", "10.1.2.3", "172.16.0.1", "172.31.255.255", "192.168.1.1"),  # noqa: S104 - nobody binds it
    *(
        "169.254.169.254",
        "100.64.0.1",
        "192.0.2.1",
        "198.18.0.1",
        "224.0.0.1",
        "239.1.1.1",
        "255.255.255.255",
    ),
    *(
        "240.0.0.1",
        "::",
        "::1",
        "fe80::1",
        "fe80::1%eth0",
        "fc00::1",
        "fd12::1",
        "fec0::1",
        "feff::1",
        "ff02::1",
        "2001:db8::1",
    ),
    *(
        "::ffff:127.0.0.1",
        "::ffff:10.0.0.1",
        "64:ff9b::7f00:1",
        "64:ff9b::a00:1",
        "2002:7f00:1::",
        "2002:a00:1::",
    ),
    *("::7f00:1", "2001::1", "nonsense", ""),
]
OUTSIDE = [
    "8.8.8.8",
    "172.32.0.1",
    "100.128.0.1",
    "2606:4700::1",
    "::ffff:8.8.8.8",
    "64:ff9b::808:808",
    "2002:808:808::",
]


@pytest.mark.parametrize("text", INSIDE)
def test_inside(text):
    assert not is_outside(text)


@pytest.mark.parametrize("text", OUTSIDE)
def test_outside(text):
    assert is_outside(text)


@pytest.mark.parametrize(
    "url",
    [
        *(
            "https://127.0.0.1/x",
            "https://localhost/x",
            "https://LOCALHOST./x",
            "https://[::1]:8443/",
            "https://10.0.0.8/",
        ),
        *(
            "https://169.254.169.254/latest",
            "https://[::ffff:127.0.0.1]/",
            "https://2130706433/",
            "https://0x7f.1/",
        ),
        *(
            "https://0177.0.0.1/",
            "https://127.1/",
            "http://hooks.garage.example/",
            "https://u:p@hooks.garage.example/",
        ),
        *(
            "https://hooks.garage.example/#x",
            "https:///x",
            "https://hooks.garage.example:99999/",
            "ftp://a.example/",
        ),
        *("https://a\\b.example/", "https://bücher.example/", "x" * 20, "https://" + "a" * 300 + ".example/"),
    ],
)
def test_registration_refuses_it_and_stores_nothing(client, url):
    refused = client.post("/v1/webhooks", json={"url": url, "events": ["digest.ready"]})
    assert refused.status_code == 422, url
    (error,) = refused.json()["errors"]
    assert error["field"] == "url"
    assert client.get("/v1/webhooks").json()["items"] == []


def test_a_change_of_the_address_is_checked_as_well(client):
    body = {"url": "https://hooks.garage.example/x", "events": ["digest.ready"]}
    hook = client.post("/v1/webhooks", json=body).raise_for_status().json()
    refused = client.patch(
        f"/v1/webhooks/{hook['id']}", json={"url": "https://localhost/"}, headers={"If-Match": "*"}
    )
    assert refused.status_code == 422
    assert client.get(f"/v1/webhooks/{hook['id']}").json()["url"] == body["url"]


def test_no_host_is_listed_by_default(service):
    assert service.app.state.settings.webhook_hosts == ()


def test_a_list_names_hosts_or_hosts_with_ports():
    assert target_of("http://127.0.0.1:81/", ["127.0.0.1:81"]).listed
    assert target_of("http://hooks.local/", ["hooks.local"]).listed
    with pytest.raises(AddressError, match="https"):
        target_of("http://127.0.0.1:82/", ["127.0.0.1:81"])
    with pytest.raises(AddressError, match="https"):
        target_of("http://127.0.0.1.evil.example/", ["127.0.0.1"])


class Names:
    """Answers look-ups of one name, differently each time; everything else as ever."""

    def __init__(self, monkeypatch, name, *answers):
        self.name, self.answers, self.asked = name, list(answers), 0
        self.real = socket.getaddrinfo
        monkeypatch.setattr(socket, "getaddrinfo", self.look_up)

    def look_up(self, host, port, *rest, **options):
        if host not in (self.name, self.name.encode()):
            return self.real(host, port, *rest, **options)
        answer = self.answers[min(self.asked, len(self.answers) - 1)]
        self.asked += 1
        return [(socket.AF_INET, socket.SOCK_STREAM, 6, "", (one, port)) for one in answer]


def message():
    return posting.Message("evt_1", "{}", ["whsec_" + "c2VjcmV0c2VjcmV0c2VjcmV0c2VjcmV0"])


def test_a_name_that_leads_inside_later_is_refused_at_the_delivery(client, fleet, receiver, monkeypatch):
    names = Names(monkeypatch, "turns.example", ["8.8.8.8"], ["127.0.0.1"])
    body = {"url": f"https://turns.example:{receiver.port}/", "events": ["digest.ready"]}
    hook = client.post("/v1/webhooks", json=body).raise_for_status().json()
    asked = client.post(f"/v1/webhooks/{hook['id']}/ping").raise_for_status()
    result = fleet.wait_for_job(asked.headers["Location"])["result"]
    assert names.asked == 2
    assert result["problem"].startswith("not sent: wanted an address in the public internet")
    assert receiver.got == []


def test_one_address_inside_among_others_is_enough_to_refuse(monkeypatch):
    Names(monkeypatch, "both.example", ["8.8.8.8", "10.0.0.1"])
    outcome = posting.post("https://both.example/", message(), datetime.now(UTC))
    assert outcome.problem.startswith("not sent:")


def test_the_connection_goes_to_the_address_that_was_checked(receiver, monkeypatch):
    names = Names(monkeypatch, "once.example", ["127.0.0.1"], ["192.0.2.1"])
    url = f"http://once.example:{receiver.port}/hook"
    outcome = posting.post(url, message(), datetime.now(UTC), listed=["once.example"])
    assert outcome.problem is None
    assert names.asked == 1
    (got,) = receiver.got
    assert got.headers["host"] == f"once.example:{receiver.port}"


def test_the_next_address_of_a_name_is_tried_where_one_takes_no_connection(receiver, monkeypatch):
    Names(monkeypatch, "two.example", ["127.0.0.2", "127.0.0.1"])
    url = f"http://two.example:{receiver.port}/hook"
    assert posting.post(url, message(), datetime.now(UTC), listed=["two.example"]).problem is None


def test_a_proxy_of_the_environment_is_not_used(receiver, monkeypatch):
    monkeypatch.setenv("HTTP_PROXY", "http://127.0.0.1:9")
    monkeypatch.setenv("ALL_PROXY", "http://127.0.0.1:9")
    outcome = posting.post(receiver.url(), message(), datetime.now(UTC), listed=["127.0.0.1"])
    assert outcome.problem is None


@pytest.fixture(scope="module")
def certificate(tmp_path_factory):
    """A certificate for hooks.example, and its key."""
    folder = tmp_path_factory.mktemp("certificate")
    cert, key = folder / "cert.pem", folder / "key.pem"
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=hooks.example",
         "-addext", "subjectAltName=DNS:hooks.example", "-keyout", key, "-out", cert],
        check=True, capture_output=True,
    )  # fmt: skip
    return cert, key


def over_tls(certificate, name):
    """Post by number to a server of that certificate; the names that the server was asked for."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(*certificate)
    asked = []
    context.sni_callback = lambda _socket, wanted, _context: asked.append(wanted)
    trusted = ssl.create_default_context(cafile=certificate[0])

    async def post(port):
        async with httpx.AsyncClient(transport=posting.ToNumbers(["127.0.0.1"], trusted)) as client:
            return await client.post(f"https://{name}:{port}/", content=b"{}")

    with receiving(lambda plain: context.wrap_socket(plain, server_side=True)) as server:
        asyncio.run(post(server.port))
    return asked


def test_tls_keeps_the_name_and_checks_the_certificate_against_it(certificate):
    assert over_tls(certificate, "hooks.example") == ["hooks.example"]
    with pytest.raises(httpx.ConnectError, match="certificate"):
        over_tls(certificate, "other.example")


def test_a_certificate_that_nobody_vouches_for_is_refused(certificate, monkeypatch):
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(*certificate)
    Names(monkeypatch, "hooks.example", ["127.0.0.1"])
    with receiving(lambda plain: context.wrap_socket(plain, server_side=True)) as server:
        outcome = posting.post(
            f"https://hooks.example:{server.port}/", message(), datetime.now(UTC), listed=["hooks.example"]
        )
    assert "certificate" in outcome.problem.lower()
    assert server.got == []


def test_the_wrong_check_would_let_it_in():
    """Asking only the text, as a filter of host names does, lets these through."""
    for text in ("::ffff:127.0.0.1", "64:ff9b::7f00:1"):
        assert not text.startswith(("127.", "10.", "192.168."))
        assert not addresses.is_outside(text)
