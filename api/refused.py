"""What a command raises that cannot be done."""

from __future__ import annotations


class RefusedError(RuntimeError):
    """The command cannot be done; says why and what to do."""
