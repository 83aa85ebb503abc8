"""Columns of a file and the values that they give: names of ours, names mapped by the sender, near misses suggested."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from api.problems import Malformed

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from api.imports.fields import Kind

_ALSO_CALLED: Mapping[str, tuple[str, ...]] = {
    "vehicle_ref": ("car", "vehicle", "car id", "vehicle id", "registration", "reg", "plate", "vin", "unit", "asset", "fleet number"),
    "fitment_ref": ("fitment", "part id", "component", "component id", "installation", "part ref"),
    "external_ref": ("id", "ref", "key", "record id", "number", "uid", "row id"),
    "read_on": ("date", "reading date", "day", "taken on", "logged"),
    "reading.value": ("odometer", "odo", "mileage", "reading", "km", "miles", "kms", "meter", "distance"),
    "reading.unit": ("unit", "uom", "units"),
    "odometer.value": ("odometer", "odo", "mileage", "km", "miles", "meter"),
    "odometer.unit": ("unit", "uom", "units"),
    "fitted_on": ("date", "fitted", "installed", "install date", "installed on"),
    "inspected_on": ("date", "inspected", "checked on"),
    "repaired_on": ("date", "repaired", "work date"),
    "removed_on": ("date", "removed", "replaced on", "end date"),
    "kind": ("part", "part kind", "part type", "component type"),
    "name": ("car", "vehicle", "description", "title"),
    "make": ("manufacturer", "brand", "marque"),
    "built": ("year", "year built", "model year", "first registered"),
    "chassis_number": ("vin", "chassis", "frame number"),
    "distance_unit": ("unit", "units", "uom", "odometer unit"),
    "finding": ("result", "outcome", "condition found"),
    "reason": ("cause", "why", "failure"),
    "note": ("comment", "comments", "remarks", "memo"),
    "notes": ("comment", "comments", "remarks", "memo"),
}  # fmt: skip
"""What else such columns are called, for suggestions only: nothing is taken by a name that the sender has not agreed to."""


@dataclass(frozen=True)
class Columns:
    """What a file's columns give.

    Attributes:
        names: in the file's order, the value that each gives; None: left aside.
        unknown: columns that nobody named, each with suggestions.
    """

    names: tuple[str | None, ...]
    unknown: dict[str, list[str]] = field(default_factory=dict)


def columns_of(kind: Kind, head: Sequence[str], mapping: Mapping[str, str | None]) -> Columns:
    """What each column of a head gives.

    Args:
        kind: of the records.
        head: names as the file has them.
        mapping: what the sender says of some of them: a value's name, or None for "leave it aside".

    Raises:
        Malformed: two columns give the same value, or a mapped column is not there.
    """
    given = {name.strip(): target for name, target in mapping.items()}
    ours = {_bare(name): name for name in targets(kind)}
    names: list[str | None] = []
    unknown: dict[str, list[str]] = {}
    for column in (one.strip() for one in head):
        if column in given:
            names.append(given[column])
        elif _bare(column) in ours:
            names.append(ours[_bare(column)])
        else:
            names.append(None)
            unknown[column] = suggestions(kind, column)
    _refuse_missing(given, head)
    _refuse_twice(names)
    return Columns(tuple(names), unknown)


def refuse_unknown_targets(kind: Kind, mapping: Mapping[str, str | None]) -> None:
    """Refuse a mapping to what such records do not have.

    Raises:
        Malformed: naming the column, with values near to what was written.
    """
    known = targets(kind)
    for column, target in mapping.items():
        if target is not None and target not in known:
            near = suggestions(kind, target) or known
            raise Malformed(f"mapping.{column}", f"null or one of: {', '.join(near)}", target)


def targets(kind: Kind) -> list[str]:
    """Every name that a mapping may use: the values, and each distance with its unit in the name ("reading.km")."""
    found = list(kind.names)
    for leaf in kind.leaves.values():
        if leaf.distance is not None:
            found += [f"{leaf.distance}.km", f"{leaf.distance}.mi"]
    return found


def suggestions(kind: Kind, column: str) -> list[str]:
    """Values that a column may mean, the likeliest first; none where nothing is near."""
    known: dict[str, str] = {}
    for name in kind.names:
        known.setdefault(_bare(name), name)
        for other in _ALSO_CALLED.get(name, ()):
            known.setdefault(_bare(other), name)
    near = difflib.get_close_matches(_bare(column), list(known), n=6, cutoff=0.72)
    return list(dict.fromkeys(known[one] for one in near))[:3]


def _bare(name: str) -> str:
    """A name without case, spaces and signs."""
    return re.sub(r"[\W_]+", "", name.lower())


def _refuse_missing(given: Mapping[str, str | None], head: Sequence[str]) -> None:
    there = {name.strip() for name in head}
    missing = next((name for name, target in given.items() if target is not None and name not in there), None)
    if missing is not None:
        raise Malformed(
            f"mapping.{missing}", f"a column of the file: {', '.join(sorted(there))[:300]}", missing
        )


def _refuse_twice(names: Sequence[str | None]) -> None:
    seen: set[str] = set()
    for name in names:
        if name is not None and name in seen:
            raise Malformed(name, "one column for each value", "two columns that give it")
        if name is not None:
            seen.add(name)
