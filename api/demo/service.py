"""The real service for as long as the demo needs it: a child process on a free loopback port."""

from __future__ import annotations

import subprocess
import sys
import time
from typing import TYPE_CHECKING, Self

import httpx

from api.demo.failure import DemoError

if TYPE_CHECKING:
    from pathlib import Path
    from types import TracebackType

_START_SECONDS = 60.0
_STOP_SECONDS = 20.0


class Service:
    """The service on one SQLite file; a context manager that stops it again.

    The child binds port 0, so it cannot clash with another program, and prints the address it got. It stops when its
    standard input closes: also if the demo itself dies.

    Args:
        database: the SQLite file.
        log: where the service's own output goes.

    Attributes:
        address: "http://127.0.0.1:PORT", once started.
    """

    def __init__(self, database: Path, log: Path) -> None:
        self._database, self._log = database, log
        self._child: subprocess.Popen[str] | None = None
        self.address = ""

    def __enter__(self) -> Self:
        try:
            self._start()
            self._wait_until_ready()
        except BaseException:
            self.stop()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    def stop(self) -> None:
        """Ask the service to stop, and see that it does."""
        child = self._child
        if child is None:
            return
        for end in (child.stdin, child.stdout):
            if end is not None and not end.closed:
                end.close()
        for harder in (child.terminate, child.kill, None):
            try:
                child.wait(_STOP_SECONDS)
            except subprocess.TimeoutExpired:
                if harder is not None:
                    harder()
            else:
                break
        self._child = None

    def _start(self) -> None:
        with self._log.open("a", encoding="utf-8") as log:
            self._child = subprocess.Popen(  # noqa: S603 - our own module under our own interpreter
                [sys.executable, "-m", "api.demo.child", str(self._database)],
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=log, text=True, start_new_session=True,
            )  # fmt: skip
        if self._child.stdout is None:
            raise DemoError("the service's output cannot be read")
        self.address = self._child.stdout.readline().strip()
        if not self.address.startswith("http://"):
            raise self._did_not_start()

    def _wait_until_ready(self) -> None:
        give_up = time.monotonic() + _START_SECONDS
        while time.monotonic() < give_up:
            if self._child is None or self._child.poll() is not None:
                raise self._did_not_start()
            try:
                if httpx.get(f"{self.address}/readyz", timeout=5.0, trust_env=False).is_success:
                    return
            except httpx.TransportError:
                pass
            time.sleep(0.1)
        raise self._did_not_start()

    def _did_not_start(self) -> DemoError:
        last = self._log.read_text("utf-8", errors="replace").strip().splitlines()[-3:]
        said = "\n".join(f"  {line}" for line in last) or "  (it said nothing)"
        return DemoError(f"the service did not start; the end of {self._log}:\n{said}")
