"""A real HTTP server on loopback that takes events, and answers as it is told."""

import threading
import time
from contextlib import contextmanager
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer


@dataclass
class Got:
    """One request as received."""

    path: str
    headers: dict
    body: bytes

    @property
    def id(self):
        return self.headers["webhook-id"]


class Receiver(ThreadingHTTPServer):
    """Keeps what it gets.

    Attributes:
        answers: what the next requests are answered with, each (status, headers) or a callable given the handler;
            200 once they are used up.
    """

    daemon_threads = True

    def __init__(self, wrap=None):
        super().__init__(("127.0.0.1", 0), _Handler)
        if wrap is not None:
            self.socket = wrap(self.socket)
        self.got, self.answers = [], []

    @property
    def port(self):
        return self.server_address[1]

    def url(self, path="/hook"):
        return f"http://127.0.0.1:{self.port}{path}"

    def wait_for(self, count, seconds=30):
        """What it got, once it is so many requests."""
        deadline = time.monotonic() + seconds
        while len(self.got) < count:
            assert time.monotonic() < deadline, f"{len(self.got)} of {count} requests after {seconds} s"
            time.sleep(0.02)
        return list(self.got)


class _Handler(BaseHTTPRequestHandler):
    def do_POST(self):
        body = self.rfile.read(int(self.headers["content-length"]))
        headers = {name.lower(): value for name, value in self.headers.items()}
        self.server.got.append(Got(self.path, headers, body))
        answer = self.server.answers.pop(0) if self.server.answers else (200, {})
        if callable(answer):
            answer(self)
            return
        status, extra = answer
        self.send_response(status)
        for name, value in {"content-length": "0", **extra}.items():
            self.send_header(name, value)
        self.end_headers()

    def log_message(self, *_):
        pass


@contextmanager
def receiving(wrap=None):
    """A receiver until the block ends."""
    server = Receiver(wrap)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
    thread.start()
    try:
        yield server
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
