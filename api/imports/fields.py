"""What a file may say about each kind of record: derived from the bodies of the JSON routes, so that both take the same."""

from __future__ import annotations

import math
import types
from dataclasses import dataclass
from functools import cache, cached_property
from typing import TYPE_CHECKING, Any, Literal, Union, get_args, get_origin

from annotated_types import MaxLen, MinLen
from pydantic import BaseModel

from api.history import schemas as history
from api.storage.tables import Fitment, Inspection, OdometerReading, Removal, Repair, Vehicle
from api.vehicles.schemas import VehicleCreate

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pydantic.fields import FieldInfo

    from api.schemas import Body
    from api.storage.tables.base import Record

RecordKind = Literal["vehicles", "odometer-readings", "fitments", "inspections", "repairs", "removals"]
Form = Literal["text", "judged", "number", "whole", "truth", "names"]
"""How a value is written: plain text; text that only the schema can judge (days, choices); numbers; truth; a list of names."""


@dataclass(frozen=True)
class Leaf:
    """One value of a record that a column of a file can give.

    Attributes:
        path: dotted name ("reading.value").
        body: the body, or part of one, that it stands in.
        field: its name there.
        form: how it is written.
        nullable: whether null is taken.
        required: whether its body cannot do without.
        low, high: bounds of a number, or of a text's length.
    """

    path: str
    body: type[Body]
    field: str
    form: Form
    nullable: bool
    required: bool
    low: float
    high: float

    @cached_property
    def column(self) -> str:
        """Where it is stored."""
        return self.path.replace(".distance", "").replace(".", "_")

    @cached_property
    def group(self) -> str:
        """The part of the body that it stands in, "" for the body itself."""
        return self.path.rpartition(".")[0]

    @cached_property
    def distance(self) -> str | None:
        """The distance that it is the figure of ("reading"), if it is one."""
        return (
            self.group
            if self.field == "value"
            and "unit" in self.body.model_fields
            and self.body is not history.Measured
            else None
        )


@dataclass(frozen=True)
class Kind:
    """One kind of record.

    Attributes:
        name: as in its address.
        table, body: where it is stored, and what its JSON route takes.
        parent: what it belongs to, None for a car.
        crossing: values that, all given in one row, are judged together by the schema.
        days: columns that hold a day, which may not lie in the future.
    """

    name: RecordKind
    table: type[Record]
    body: type[Body]
    parent: Literal["vehicle", "fitment"] | None
    crossing: tuple[frozenset[str], ...]
    days: tuple[str, ...]

    @cached_property
    def leaves(self) -> dict[str, Leaf]:
        """Every value by its dotted name, in the order of the body."""
        return {leaf.path: leaf for leaf in _leaves(self.body, "")}

    @cached_property
    def parent_ref(self) -> str | None:
        """Name of the column that says what it belongs to ("vehicle_ref")."""
        return None if self.parent is None else f"{self.parent}_ref"

    @cached_property
    def names(self) -> tuple[str, ...]:
        """Every name that a column of a file may have."""
        own = ("external_ref", *(path for path in self.leaves if path != "external_ref"))
        return own if self.parent_ref is None else (self.parent_ref, *own)

    @cached_property
    def parts(self) -> dict[str, list[Leaf]]:
        """The values by the part of the body that they stand in, "" for the body itself."""
        found: dict[str, list[Leaf]] = {}
        for leaf in self.leaves.values():
            found.setdefault(leaf.group, []).append(leaf)
        return found

    @cached_property
    def groups(self) -> frozenset[str]:
        """Names of the parts."""
        return frozenset(self.parts) - {""}

    def demands(self, part: str) -> bool:
        """Whether a body cannot do without a part."""
        return part == "" or ("." not in part and self.body.model_fields[part].is_required())

    @property
    def judged_whole(self) -> bool:
        """Whether its body has rules over several fields that only it can judge."""
        return bool(self.body.__pydantic_decorators__.model_validators)


def _leaves(body: type[Body], before: str) -> Iterator[Leaf]:
    for name, info in body.model_fields.items():
        inner, nullable = _without_none(info.annotation)
        path = f"{before}{name}"
        if isinstance(inner, type) and issubclass(inner, BaseModel):
            yield from _leaves(inner, f"{path}.")  # type: ignore[arg-type]  # parts of bodies are bodies
        else:
            low, high = _bounds(info, inner)
            yield Leaf(path, body, name, _form(inner, info), nullable, info.is_required(), low, high)


def _without_none(annotation: Any) -> tuple[Any, bool]:
    if get_origin(annotation) in (Union, types.UnionType):
        kinds = [kind for kind in get_args(annotation) if kind is not type(None)]
        return kinds[0], len(kinds) < len(get_args(annotation))
    return annotation, False


def _plain(annotation: Any) -> tuple[Any, list[Any]]:
    """A type and what is said about it."""
    if hasattr(annotation, "__metadata__"):
        return annotation.__origin__, list(annotation.__metadata__)
    return annotation, []


def _rules(info: FieldInfo, inner: Any) -> list[Any]:
    said = _plain(inner)[1]
    return [*info.metadata, *(rule for part in said for rule in getattr(part, "metadata", [part]))]


def _form(inner: Any, info: FieldInfo) -> Form:
    kind = _plain(inner)[0]
    simple: dict[Any, Form] = {bool: "truth", int: "whole", float: "number"}
    if kind in simple:
        return simple[kind]
    if get_origin(kind) is list:
        return "names"
    only_lengths = all(
        isinstance(rule, MinLen | MaxLen) or not callable(getattr(rule, "func", None))
        for rule in _rules(info, inner)
    )
    return "text" if kind is str and only_lengths else "judged"


def _bounds(info: FieldInfo, inner: Any) -> tuple[float, float]:
    """The least and the most that a number, or a text's length, may be; next to a bound that is itself left out."""
    low, high = float("-inf"), float("inf")
    for rule in _rules(info, inner):
        least = getattr(rule, "ge", getattr(rule, "min_length", None))
        most = getattr(rule, "le", getattr(rule, "max_length", None))
        low = float(least) if isinstance(least, int | float) else low
        high = float(most) if isinstance(most, int | float) else high
        over, under = getattr(rule, "gt", None), getattr(rule, "lt", None)
        low = math.nextafter(over, math.inf) if isinstance(over, int | float) else low
        high = math.nextafter(under, -math.inf) if isinstance(under, int | float) else high
    return low, high


_FITTED = (
    frozenset({"donor.distance.value"}),
    frozenset({"donor.distance.unit"}),
    frozenset({"donor.years"}),
    frozenset({"made_on", "fitted_on"}),
)


_REMOVED = (frozenset({"shared_event"}), frozenset({"complaint_fit"}))


@cache
def kinds() -> dict[str, Kind]:
    """Every kind by its name, parents before what belongs to them."""
    found = (
        Kind("vehicles", Vehicle, VehicleCreate, None, (frozenset({"built", "joined_on"}),), ("built", "joined_on")),
        Kind("odometer-readings", OdometerReading, history.OdometerReadingCreate, "vehicle", (frozenset({"dial_digits"}),), ("read_on",)),
        Kind("fitments", Fitment, history.FitmentCreate, "vehicle", _FITTED, ("fitted_on", "made_on")),
        Kind("inspections", Inspection, history.InspectionCreate, "fitment", (), ("inspected_on",)),
        Kind("repairs", Repair, history.RepairCreate, "fitment", (), ("repaired_on",)),
        Kind("removals", Removal, history.RemovalCreate, "fitment", _REMOVED, ("removed_on",)),
    )  # fmt: skip
    return {kind.name: kind for kind in found}
