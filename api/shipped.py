"""Files that travel with the program: found in a checkout and in an installed wheel alike."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).parent
_ROOTS = (_PACKAGE / "_shipped", _PACKAGE.parent)
"""The wheel's copy, then the checkout."""


def shipped(path: str) -> Path:
    """Where a file or folder of ``seed_data`` or ``openapi_examples`` is.

    Args:
        path: relative, with forward slashes, such as "seed_data/fleet.toml".

    Raises:
        FileNotFoundError: this installation lacks it.
    """
    for root in _ROOTS:
        if (root / path).exists():
            return root / path
    raise FileNotFoundError(f"{path} did not come with this installation: install it again")
