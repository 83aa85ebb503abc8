"""A real server on loopback for tests, and clients of fresh fleets."""

import os
import socket
import ssl
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx
import uvicorn

from api import logs
from api.app import create_app
from api.keys import service
from api.settings import Settings
from api.storage.engine import Database
from api.storage.session import writing
from tests.api import postgresql

TLS = ssl.create_default_context()
"""One for all clients: the library makes one for each, which takes longer than most requests."""
COMMAND = [sys.executable, "-c", "from api.cli import main; main()"]


def command(*arguments, **options):
    """Run the command line in a process of its own."""
    return subprocess.run(
        [*COMMAND, *arguments], capture_output=True, text=True, timeout=120, check=False, **options
    )


def fresh_url(folder):
    """The address of a database that nobody else uses; on PostgreSQL where the environment asks for it."""
    if os.environ.get("WEARWRIGHT_TEST_DATABASE") == "postgresql":
        return postgresql.fresh_url()
    return f"sqlite:///{folder / 'wearwright.db'}"


def fresh_settings(folder, **changes):
    """Settings for a database that nobody else uses."""
    return Settings.model_validate({"database_url": fresh_url(folder), "migrate": True, **changes})


@contextmanager
def fresh_database(folder):
    """An empty database that nobody else uses."""
    database = Database(fresh_url(folder))
    yield database
    database.close()


@dataclass
class Service:
    """A running service.

    Attributes:
        base_url: where it listens.
        app: the application, for tests that look behind the answers.
    """

    base_url: str
    app: object

    @property
    def database(self):
        return self.app.state.database

    def fleet(self, **options):
        """A fleet that nobody else has, with a key of each scope."""
        with writing(self.database) as session:
            row = service.fleet_for(
                session,
                f"fleet {uuid.uuid4()}",
                time_zone=options.get("time_zone", "Europe/London"),
                currency=options.get("currency", "GBP"),
            )
            keys = {
                scope: service.make_key(session, row.id, scope).text for scope in ("read", "write", "admin")
            }
        return Fleet(self, row.id, keys)


@dataclass
class Fleet:
    """One fleet on a service, and clients that hold its keys."""

    service: Service
    id: str
    keys: dict

    def client(self, scope="write", **options):
        headers = {"Authorization": f"Bearer {self.keys[scope]}"}
        return httpx.Client(
            base_url=self.service.base_url, headers=headers, timeout=60, verify=TLS, **options
        )

    def wait_for_job(self, location, seconds=200):
        """The job once it has ended."""
        deadline = time.monotonic() + seconds
        with self.client("read") as client:
            while time.monotonic() < deadline:
                job = client.get(location).raise_for_status().json()
                if job["state"] in {"succeeded", "failed", "cancelled"}:
                    return job
                time.sleep(0.05)
        raise AssertionError(f"{location} has not ended after {seconds} s: {job}")


@contextmanager
def running(settings, *, change_app=None):
    """Serve an application on a free port of loopback until the block ends.

    Args:
        settings: of the service.
        change_app: called with the application before it starts, for planted routes.
    """
    logs.configure("warning", as_json=True)
    app = create_app(settings)
    if change_app is not None:
        change_app(app)
    # Named as TCP, or the event loop leaves Nagle's algorithm on and every answer waits 40 ms for an acknowledgement.
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listener.bind(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(app, log_config=None, access_log=False, lifespan="on"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    try:
        _wait_until_started(server, thread)
        yield Service(f"http://127.0.0.1:{listener.getsockname()[1]}", app)
    finally:
        server.should_exit = True
        thread.join(timeout=30)
        listener.close()


class _Shared:
    """The one service that all tests of a run share; a process has one worker."""

    users = 0
    stack = None
    service = None


@contextmanager
def shared_service():
    """The service of the run: started for its first user, stopped after its last."""
    if _Shared.users == 0:
        _Shared.stack = ExitStack()
        folder = Path(_Shared.stack.enter_context(tempfile.TemporaryDirectory(prefix="wearwright-")))
        _Shared.service = _Shared.stack.enter_context(running(fresh_settings(folder)))
    _Shared.users += 1
    try:
        yield _Shared.service
    finally:
        _Shared.users -= 1
        if _Shared.users == 0:
            _Shared.stack.close()


def _wait_until_started(server, thread):
    for _ in range(1000):
        if server.started:
            return
        if not thread.is_alive():
            break
        time.sleep(0.01)
    raise AssertionError("the service did not start")
