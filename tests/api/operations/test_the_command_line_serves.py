"""`wearwright serve`: from nothing to a service that stops in good order; refusals are one line."""

import os
import re
import signal
import socket
import subprocess
import time
from pathlib import Path

import httpx
import pytest

from tests.api.support import COMMAND, command


def free_port():
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return found.getsockname()[1]


def test_it_makes_its_database_serves_and_stops_in_good_order(tmp_path):
    port = free_port()
    arguments = ["serve", "--port", str(port), "--database-url", f"sqlite:///{tmp_path / 'new.db'}"]
    server = subprocess.Popen([*COMMAND, *arguments], stderr=subprocess.PIPE, text=True)
    try:
        deadline = time.monotonic() + 30
        while True:
            try:
                assert httpx.get(f"http://127.0.0.1:{port}/readyz").status_code == 200
                break
            except httpx.TransportError:
                assert time.monotonic() < deadline
                assert server.poll() is None, server.stderr.read()
                time.sleep(0.1)
    finally:
        server.send_signal(signal.SIGTERM)
        _, errors = server.communicate(timeout=30)
    assert server.returncode == 0
    assert "Traceback" not in errors
    assert "dbos.dev" not in errors


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["migrate", "--database-url", "mysql://x/y"], "wanted sqlite:///FILE or postgresql://"),
        (["serve", "--port", "70000"], "65535"),
        (["worker", "--database-url", "sqlite:///x.db"], "on SQLite the service itself runs the jobs"),
        (["keys", "create"], "--fleet"),
    ],
)
def test_what_it_refuses_it_says_without_a_traceback(tmp_path, arguments, said):
    refused = command(*arguments, cwd=tmp_path, env=_environment())
    assert refused.returncode != 0
    assert said in re.sub(r"[│\s]+", " ", refused.stderr)
    assert "Traceback" not in refused.stderr


def test_a_wrong_setting_is_named(tmp_path):
    refused = command("migrate", cwd=tmp_path, env={**_environment(), "WEARWRIGHT_JOB_THREADS": "none"})
    assert refused.returncode == 1
    assert "job_threads" in refused.stderr
    assert "Traceback" not in refused.stderr


def _environment():
    return {**os.environ, "PYTHONPATH": str(Path(__file__).parents[3])}
