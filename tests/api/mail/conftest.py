"""Fixtures: a real SMTP server with STARTTLS and sign-in, and a service that sends through it."""

import ssl
import subprocess

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult
from sqlmodel import delete

from api.settings import Settings
from api.storage.session import writing
from api.storage.tables import DigestSubscription

USER, PASSWORD = "wearwright", "a password of the mail server"


class Mailbox:
    """Keeps what it gets; refuses as it is told."""

    def __init__(self):
        self.got = []
        self.answers = []

    async def handle_RCPT(self, _server, _session, envelope, address, _options):  # noqa: N802 - the library's name
        if self.answers:
            return self.answers.pop(0)
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, _server, session, envelope):  # noqa: N802 - the library's name
        self.got.append(
            (envelope.mail_from, list(envelope.rcpt_tos), envelope.content, session.ssl is not None)
        )
        return "250 taken"


class EncryptedController(Controller):
    """A server that takes mail only after STARTTLS and sign-in."""

    def __init__(self, mailbox, context):
        self.context = context
        super().__init__(mailbox, hostname="127.0.0.1", port=0)

    def factory(self):
        def check(server, session, envelope, mechanism, data):
            fine = (data.login, data.password) == (USER.encode(), PASSWORD.encode())
            return AuthResult(success=fine, handled=False)

        return SMTP(
            self.handler,
            tls_context=self.context,
            require_starttls=True,
            auth_required=True,
            authenticator=check,
            hostname="localhost",
        )

    def _trigger_server(self):
        self.port = self.server.sockets[0].getsockname()[1]
        super()._trigger_server()


@pytest.fixture(scope="session")
def certificate(tmp_path_factory):
    """A self-signed certificate for localhost: (certificate, key)."""
    folder = tmp_path_factory.mktemp("certificate")
    cert, key = folder / "cert.pem", folder / "key.pem"
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost",
         "-addext", "subjectAltName=DNS:localhost,IP:127.0.0.1", "-keyout", key, "-out", cert],
        check=True, capture_output=True,
    )  # fmt: skip
    return cert, key


@pytest.fixture
def post_office(certificate):
    """A running server and its mailbox."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(*certificate)
    controller = EncryptedController(Mailbox(), context)
    controller.start()
    yield controller
    controller.stop()


@pytest.fixture
def mail_settings(post_office, certificate):
    """Settings that send through it."""
    return {
        "smtp_host": "127.0.0.1",
        "smtp_port": post_office.port,
        "smtp_ca_file": certificate[0],
        "smtp_user": USER,
        "smtp_password": PASSWORD,
        "mail_from": "digest@cars.example",
        "public_url": "https://cars.example",
    }


@pytest.fixture
def sending(service, mail_settings, monkeypatch):
    """Let the running service's worker send through the server; gives a function that changes the settings."""
    from api import jobs
    from api.jobs import registry
    from api.mail import delivery

    monkeypatch.setattr(registry, "_works", dict(registry._works))
    monkeypatch.setattr(delivery, "WAITS", (0.05, 0.05))

    def change(**changes):
        settings = Settings.model_validate(
            {"database_url": service.app.state.settings.database_url, **mail_settings, **changes}
        )
        jobs.register(delivery.WORK, delivery.Delivering(settings))
        return settings

    change()
    yield change
    with writing(service.database) as session:  # the clock of a later test is not to find them
        session.exec(delete(DigestSubscription))
