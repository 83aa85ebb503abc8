"""The command's root: its rooms, and how a refusal ends it: one line on standard error and an exit status."""

from __future__ import annotations

import sys
from importlib import import_module

import httpx
import typer
from pydantic import ValidationError

from api.calls.transport import ProblemError
from api.cli.output import in_one_line, plain
from api.refused import RefusedError

ROOMS = ("running", "keys", "fleet", "kinds", "backtest", "digests", "jobs", "files")
"""Files of this package with subcommands, in the order in which the help shows them."""

app = typer.Typer(
    help="Plan the wear parts of ageing cars: patchy records in, dated and reasoned work out.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    add_completion=False,
)

_EXPECTED = (
    RefusedError,
    ProblemError,
    ValidationError,
    ValueError,
    TimeoutError,
    OSError,
    httpx.TransportError,
    httpx.InvalidURL,
)
_REFUSED, _USAGE, _STOPPED = 1, 2, 130
_MALFORMED = 422


def main() -> None:
    """Run the command line.

    Raises:
        SystemExit: always: 0 done, 1 refused or failed (one line on standard error says why), 2 not understood, 130 stopped.
    """
    for room in ROOMS:
        import_module(f"api.cli.{room}")
    raise SystemExit(_status())


def _status() -> int:
    try:
        return int(app(standalone_mode=False, prog_name="wearwright") or 0)
    except typer.TyperException as misread:
        return _misread(misread)
    except typer.Abort:
        return _say("stopped; nothing more is done", _STOPPED)
    except _EXPECTED as refusal:
        return _say(_in_one_line(refusal), _USAGE if _misspoken(refusal) else _REFUSED)


def _misread(misread: typer.TyperException) -> int:
    asked = getattr(misread, "ctx", None)
    words = " ".join(misread.format_message().split())
    if type(misread).__name__ == "NoArgsIsHelpError":  # typer has shown the help by then
        return _USAGE
    path = "wearwright" if asked is None else asked.command_path
    return _say(f"{words} (see {path} --help)", misread.exit_code)


def _misspoken(refusal: Exception) -> bool:
    """Whether the words on the command line were at fault, not what they asked for."""
    if isinstance(refusal, ProblemError):
        return refusal.status == _MALFORMED
    return isinstance(refusal, httpx.UnsupportedProtocol | httpx.InvalidURL)


def _say(words: str, status: int) -> int:
    sys.stderr.write(f"wearwright: {plain(words)}\n")
    return status


def _in_one_line(refusal: Exception) -> str:
    if isinstance(refusal, ValidationError):
        return in_one_line(refusal)
    if isinstance(refusal, ProblemError) and refusal.status == _MALFORMED and refusal.errors:
        return "; ".join(
            f"{one.get('field')}: wanted {one.get('wanted')}, got {one.get('got')}" for one in refusal.errors
        )
    if isinstance(refusal, httpx.UnsupportedProtocol | httpx.InvalidURL):
        return f"--url: wanted http://… or https://…: {refusal}"
    if isinstance(refusal, OSError) and refusal.strerror:
        return ": ".join(str(one) for one in (refusal.filename, refusal.strerror) if one)
    if isinstance(refusal, httpx.TransportError):
        return f"the service cannot be reached ({refusal or type(refusal).__name__}): is it running, and is --url right?"
    return " ".join(str(refusal).split()) or type(refusal).__name__
