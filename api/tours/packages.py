"""Which work before a tour is compared: what the keeper asks about, or what a mechanic would propose."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from api.problems import Conflict, Malformed

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from api.bridge.forecasts.outlook import Outlook
    from planner.risk import CarRisk

MOST_PACKAGES = 3
LIKELIEST = 3


@dataclass(frozen=True)
class Package:
    """A name and the fitments that it renews."""

    name: str
    fitment_ids: tuple[str, ...]


def asked_for(parts: Sequence[Outlook], renew: Sequence[str]) -> list[Package]:
    """The keeper's own packages, each a list of fitment ids or kinds with commas between.

    Raises:
        Malformed: too many of them.
        Conflict: a part that is not on the car.
    """
    if len(renew) > MOST_PACKAGES:
        raise Malformed("renew", f"up to {MOST_PACKAGES} packages", len(renew))
    return [_package(parts, text) for text in renew]


def proposed(parts: Sequence[Outlook], before: CarRisk, home: date) -> list[Package]:
    """What is due, what comes due by the end of the tour, and the parts likeliest to stop the car."""
    by_id = {one.row.fitment_id: one for one in parts}
    due = [one.row.fitment_id for one in parts if one.window.status == "due now"]
    by_then = [
        one.row.fitment_id for one in parts if one.window.likely is not None and one.window.likely <= home
    ]
    renewable = [name for name, _ in before.contributors if by_id[name].window.likely is not None]
    found = [
        Package("what is due", tuple(due)),
        Package("what comes due by the end of the tour", tuple(by_then)),
        Package("the parts likeliest to stop the car", tuple(renewable[:LIKELIEST])),
    ]
    kept: dict[frozenset[str], Package] = {}
    for package in found:
        if package.fitment_ids:
            kept.setdefault(frozenset(package.fitment_ids), package)
    return list(kept.values())


def _package(parts: Sequence[Outlook], text: str) -> Package:
    names = [name.strip() for name in text.split(",") if name.strip()]
    by_name = _by_name(parts)
    wrong = [name for name in names if name not in by_name]
    if wrong:
        raise Conflict(
            f"not in service on this car: {', '.join(wrong)} (wanted: fitments or kinds on it)", field="renew"
        )
    ids = [fitment_id for name in names for fitment_id in by_name[name]]
    return Package(", ".join(names), tuple(dict.fromkeys(ids)))


def _by_name(parts: Sequence[Outlook]) -> Mapping[str, list[str]]:
    found: dict[str, list[str]] = {}
    for one in parts:
        found.setdefault(one.row.fitment_id, []).append(one.row.fitment_id)
        found.setdefault(one.row.kind, []).append(one.row.fitment_id)
    return found
