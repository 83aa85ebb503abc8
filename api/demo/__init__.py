"""The demo: an invented fleet registered with the real service over HTTP, and what comes out of it."""

from __future__ import annotations

from pathlib import Path

DEFAULT_FOLDER = Path(".demo")


def run_demo(folder: Path = DEFAULT_FOLDER, *, as_json: bool = False) -> None:
    """The command `wearwright demo`.

    Args:
        folder: the demo's own; each run empties it and builds it anew.
        as_json: print what came of it as one JSON document, and the words on standard error.

    Raises:
        SystemExit: with the exit status, where the demo failed (1) or was stopped (130).
    """
    from api.demo.run import run  # noqa: PLC0415 - slow to load, and only the command needs it

    if status := run(folder, as_json=as_json):
        raise SystemExit(status)
