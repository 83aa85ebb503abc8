"""How long work says how far it is: a callable that the caller may pass in."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[int, int, str], None]
"""Called with (done, total, what) now and then; must be quick and must not raise."""


def silent(done: int, total: int, what: str) -> None:
    """Progress that says nothing; the default."""
