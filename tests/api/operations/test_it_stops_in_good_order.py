"""SIGTERM: a request under way is answered and stored, no new connection is taken, the process ends well."""

import json
import os
import signal
import socket
import subprocess
import time

import httpx
import pytest
from sqlmodel import select

from api.jobs import queue
from api.keys import service
from api.storage import schema
from api.storage.session import reading, writing
from api.storage.tables import Vehicle
from tests.api.operations.test_the_command_line_serves import free_port
from tests.api.support import COMMAND, fresh_database


def a_key(database):
    schema.migrate(database)
    queue.prepare(database)
    with writing(database) as session:
        fleet = service.fleet_for(session, "one", time_zone=None, currency=None)
        return service.make_key(session, fleet.id, "write").text


def wait_until_ready(port, server):
    deadline = time.monotonic() + 60
    while True:
        try:
            assert httpx.get(f"http://127.0.0.1:{port}/readyz", timeout=30).status_code == 200
        except httpx.TransportError:
            assert time.monotonic() < deadline
            assert server.poll() is None
            time.sleep(0.1)
        else:
            return


def test_a_request_under_way_is_finished(tmp_path):
    with fresh_database(tmp_path) as database:
        key, port = a_key(database), free_port()
        url = database.url.render_as_string(hide_password=False)
        arguments = [*COMMAND, "serve", "--port", str(port), "--database-url", url]
        server = subprocess.Popen(arguments, stderr=subprocess.DEVNULL, env=dict(os.environ))
        try:
            wait_until_ready(port, server)
            body = json.dumps({"name": "under way", "distance_unit": "km"}).encode()
            head = (
                f"POST /v1/vehicles HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {key}\r\n"
                f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n"
            )
            with socket.create_connection(("127.0.0.1", port)) as wire:
                wire.sendall(head.encode() + body[:10])
                time.sleep(0.5)
                server.send_signal(signal.SIGTERM)
                time.sleep(1.0)
                assert server.poll() is None
                with pytest.raises(OSError):  # noqa: PT011 - refused or reset, as the system has it
                    socket.create_connection(("127.0.0.1", port), timeout=2).close()
                wire.sendall(body[10:])
                wire.settimeout(20)
                assert wire.recv(100).startswith(b"HTTP/1.1 201")
            assert server.wait(30) == 0
        finally:
            server.kill()
            server.wait()
        with reading(database) as session:
            assert session.exec(select(Vehicle.name)).all() == ["under way"]
