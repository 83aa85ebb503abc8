"""The demo's child process: serves one SQLite file on a free loopback port until its standard input closes."""

from __future__ import annotations

import os
import socket
import sys
import threading
from pathlib import Path

import uvicorn


def main(database: Path) -> None:
    """Bind a free port, say where, then serve; ends when the parent closes our standard input."""
    sock = free_port()
    print(f"http://127.0.0.1:{sock.getsockname()[1]}", flush=True)  # noqa: T201 - the parent waits for this line
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    from api import logs  # noqa: PLC0415 - slow to load: the address is out first
    from api.app import create_app  # noqa: PLC0415 - as above
    from api.settings import Settings  # noqa: PLC0415 - as above

    logs.configure("info", as_json=False)
    app = create_app(Settings.for_file(database, requests_per_minute=0, jobs=True, migrate=True))
    server = uvicorn.Server(uvicorn.Config(app, log_config=None))
    threading.Thread(target=_stop_with_parent, args=(server,), daemon=True).start()
    server.run(sockets=[sock])


def free_port() -> socket.socket:
    """A listening socket on a free loopback port.

    It is said to be TCP: of one that is not, the event loop leaves Nagle's algorithm on, and each answer waits some
    40 ms for the other side's acknowledgement.
    """
    sock = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    sock.bind(("127.0.0.1", 0))
    sock.listen(128)
    return sock


def _stop_with_parent(server: uvicorn.Server) -> None:
    sys.stdin.read()
    server.should_exit = True


if __name__ == "__main__":
    main(Path(sys.argv[1]))
