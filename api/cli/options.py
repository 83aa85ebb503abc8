"""Options that many subcommands share, and what they open: the settings, or a client of a running service."""

from __future__ import annotations

import logging
import os
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated
from urllib.parse import urlsplit

import typer

from api import logs
from api.client import Retries, WearwrightClient
from api.refused import RefusedError
from api.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Iterator

DatabaseUrl = Annotated[
    str | None,
    typer.Option(
        "--database-url", help="sqlite:///FILE or postgresql://…; default: WEARWRIGHT_DATABASE_URL."
    ),
]
"""For what works on the database itself."""

ServiceUrl = Annotated[
    str,
    typer.Option("--url", envvar="WEARWRIGHT_URL", help="Where the service answers."),
]
"""For what asks a running service."""

KeyFile = Annotated[
    Path | None,
    typer.Option("--key-file", help="File that holds the key; default: the key in WEARWRIGHT_KEY."),
]
"""A key never stands on the command line, where every user of the machine could read it."""

AsJson = Annotated[bool, typer.Option("--json", help="Print JSON for programs instead of a table.")]

AsJsonLines = Annotated[
    bool, typer.Option("--json", help="Log one JSON object a line, whatever WEARWRIGHT_LOG_JSON says.")
]
"""For what runs until it is stopped and has a log in place of an answer."""

DEFAULT_URL = "http://127.0.0.1:8000"
_QUICKLY = Retries(attempts=3, seconds=10.0)
_LOOPBACK = {"127.0.0.1", "localhost", "::1"}


def settings(database_url: str | None, *, as_json: bool = False) -> Settings:
    """The settings of the environment, with the database that was named; logs as they say, or as JSON where that is asked for."""
    found = Settings() if database_url is None else Settings.model_validate({"database_url": database_url})
    logs.configure(found.log_level, as_json=as_json or found.log_json)
    return found


@contextmanager
def service(url: str, key_file: Path | None) -> Iterator[WearwrightClient]:
    """A client of a running service, closed afterwards.

    Raises:
        RefusedError: no key is given, or its file cannot be read.
    """
    if key_file is not None:
        try:
            key = key_file.read_text(encoding="utf-8").strip()
        except (OSError, UnicodeDecodeError) as failure:
            why = getattr(failure, "strerror", None) or "it is no text"
            raise RefusedError(f"--key-file: {key_file} cannot be read: {why}") from failure
    else:
        key = os.environ.get("WEARWRIGHT_KEY", "").strip()
    if not (key.startswith("ww_") and key.isascii() and key.isprintable()):
        wanted = "a key, ww_…, in --key-file or WEARWRIGHT_KEY (`wearwright keys create` makes one)"
        raise RefusedError(f"key: wanted {wanted}; this is {'none' if not key else 'something else'}")
    logs.configure("error", as_json=False)
    logging.getLogger("stamina").setLevel(logging.ERROR)  # a try that is made again is no news
    near = urlsplit(url).hostname in _LOOPBACK
    with WearwrightClient(url, key, timeout=60.0, retries=_QUICKLY, proxies=not near) as client:
        yield client
