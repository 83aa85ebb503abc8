"""A small HTTP server that answers from a script: for what a real service rarely does, such as being busy."""

from __future__ import annotations

import json
import threading
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any


@dataclass
class Answer:
    status: int = 200
    body: Any = field(default_factory=dict)
    headers: dict[str, str] = field(default_factory=dict)
    hang_up: bool = False


@dataclass
class Asked:
    method: str
    path: str
    headers: dict[str, str]
    body: Any


@contextmanager
def scripted(*answers: Answer):
    """Serve the answers one after another; yields the address and the list of what was asked."""
    script, asked = list(answers), []

    class Handler(BaseHTTPRequestHandler):
        def log_message(self, *_):
            pass

        def _answer(self):
            length = int(self.headers.get("Content-Length") or 0)
            body = json.loads(self.rfile.read(length)) if length else None
            asked.append(Asked(self.command, self.path, dict(self.headers), body))
            answer = script.pop(0)
            if answer.hang_up:
                self.connection.close()
                return
            text = json.dumps(answer.body).encode()
            self.send_response(answer.status)
            for name, value in {"Content-Type": "application/json", **answer.headers}.items():
                self.send_header(name, value)
            self.send_header("Content-Length", str(len(text)))
            self.end_headers()
            self.wfile.write(text)

        do_GET = do_POST = do_PUT = do_PATCH = do_DELETE = _answer  # noqa: N815 - the base class looks for these names

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, args=(0.02,))
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}", asked
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
