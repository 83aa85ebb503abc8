"""Templates into HTML: everything is escaped; filters write days, distances and money as people read them."""

from __future__ import annotations

import hashlib
from datetime import date
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

from planner.faults.words import times_in_words
from planner.interval.wording import rounded

if TYPE_CHECKING:
    from collections.abc import Mapping

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

STATIC = {
    "pages.css": "text/css; charset=utf-8",
    "mark.svg": "image/svg+xml",
}
"""Files that go with the pages, and their types; nothing else is served."""


def render(template: str, content: Mapping[str, Any]) -> str:
    """A template filled in."""
    return _environment().get_template(template).render(content)


@lru_cache(maxsize=1)
def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("api.pages"),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters.update(
        day=day, month=month, far=far, amount=rounded, begun=begun, told=told, times=times_in_words
    )
    made.globals.update(static=static_address)
    return made


@lru_cache(maxsize=10)
def static_file(name: str) -> bytes:
    """A file that goes with the pages.

    Raises:
        KeyError: no such file is served.
    """
    if name not in STATIC:
        raise KeyError(name)
    return files("api.pages").joinpath("static", name).read_bytes()


@lru_cache(maxsize=10)
def static_address(name: str) -> str:
    """Where a file is served; the address changes with its content, so browsers may keep it for good."""
    return f"/pages/static/{name}?v={hashlib.sha256(static_file(name)).hexdigest()[:12]}"


def day(when: date) -> str:
    """A calendar day: 25 Nov 2026."""
    return f"{when.day} {_MONTHS[when.month - 1]} {when.year}"


def month(when: date) -> str:
    """A month: Nov 2026."""
    return f"{_MONTHS[when.month - 1]} {when.year}"


def far(distance: Any) -> str:
    """A distance with its unit: 52,000 mi."""
    return f"{distance.value:,.0f} {distance.unit}"


def begun(text: str) -> str:
    """A name as the beginning of a line: its first letter large."""
    return text[:1].upper() + text[1:]


def told(text: str) -> str:
    """A day as somebody wrote it, in words: "2024-05-12" is 12 May 2024, "1998~" is about 1998."""
    lead = {"~": "about ", "?": "perhaps ", "%": "perhaps about "}.get(text[-1:], "")
    bare = text.rstrip("~?%")
    try:
        if len(bare) == len("2024-05"):
            return lead + month(date.fromisoformat(f"{bare}-01"))
        return lead + (day(date.fromisoformat(bare)) if len(bare) == len("2024-05-12") else bare)
    except ValueError:
        return text
