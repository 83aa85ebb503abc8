"""What stretches or shortens a kind's life: storage, heat, use and grade, as multipliers with their spread and provenance."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from planner.catalogue.commons import look_up
from planner.catalogue.loader import load_catalogue, package_commons, package_texts
from planner.catalogue.reading import parse_toml
from planner.errors import CatalogueError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.catalogue.reading import Table
    from planner.catalogue.values import Provenance

CLOCKS = ("distance", "age")
LEAST_SPREAD = 0.25
"""Least standard deviation of ln factor (judgement): the trade's ranges are to be used as wide priors."""

_FOUR_OF_FIVE = 2.563103  # width of the central 80 % of a normal law, in standard deviations


@dataclass(frozen=True, slots=True)
class BookModifier:
    """A setting that multiplies the life of some kinds.

    Attributes:
        id: short name, e.g. "heat_soak".
        name: in words.
        kinds: ids of the kinds that it bears on.
        clocks: the clocks that it stretches, as far as a kind has them.
        factor: the range of the multiplier on life, as the trade's notes state it.
        new_part_fault: range of the share of new parts that are bad from the shelf; None where the notes are silent.
        grade: what a part's record gives as its grade where the setting is the part's own, e.g. "pattern"; None: it is the car's.
        not_with: ids of settings of the car that cannot hold beside it.
        provenance: of both.
    """

    id: str
    name: str
    kinds: tuple[str, ...]
    clocks: tuple[str, ...]
    factor: tuple[float, float]
    new_part_fault: tuple[float, float] | None
    provenance: Provenance
    grade: str | None = None
    not_with: tuple[str, ...] = ()

    @property
    def middle(self) -> float:
        """The likeliest multiplier: the geometric mean of the range."""
        return math.sqrt(self.factor[0] * self.factor[1])

    @property
    def likely_fault(self) -> float | None:
        """The likeliest share of bad new parts: the geometric mean of the range; None where the notes are silent."""
        return None if self.new_part_fault is None else math.sqrt(math.prod(self.new_part_fault))

    @property
    def spread(self) -> float:
        """Standard deviation of the logarithm of the multiplier."""
        return max(LEAST_SPREAD, math.log(self.factor[1] / self.factor[0]) / _FOUR_OF_FIVE)


@cache
def load_modifiers() -> Mapping[str, BookModifier]:
    """The modifiers that come with the planner, by id; read at the first call and kept.

    Raises:
        CatalogueError: naming file, modifier and field.
    """
    return read_modifiers(package_texts("modifiers"))


def read_modifiers(texts: Mapping[str, str]) -> Mapping[str, BookModifier]:
    """Modifiers from TOML texts by file name.

    Raises:
        CatalogueError: naming file, modifier and field.
    """
    modifiers: dict[str, BookModifier] = {}
    for file, text in texts.items():
        root = parse_toml(text, file)
        for name, table in root.named_tables("modifier"):
            modifiers[name] = _read(name, table)
        root.close()
    for one in modifiers.values():
        for other in one.not_with:
            if other not in modifiers:
                raise CatalogueError(f"{one.id}: not_with", "the id of a modifier", other)
    return MappingProxyType(modifiers)


def circumstances_of_cars() -> Mapping[str, BookModifier]:
    """The modifiers that are a car's own, by id: how it stands, is driven and fuelled."""
    return {name: one for name, one in load_modifiers().items() if one.grade is None}


def grades_of_parts() -> Mapping[str, BookModifier]:
    """The modifiers that are a part's own, by the grade that its record gives."""
    return {one.grade: one for one in load_modifiers().values() if one.grade is not None}


def modifiers_of(kind: str) -> tuple[BookModifier, ...]:
    """The modifiers that bear on a kind, in order; empty for a kind that none names."""
    return tuple(modifier for modifier in load_modifiers().values() if kind in modifier.kinds)


def _read(name: str, table: Table) -> BookModifier:
    kinds = table.texts("kinds", needed=True)
    for kind in kinds:
        look_up(table, "kinds", kind, load_catalogue())
    clocks = table.choices("clocks", CLOCKS, needed=True)
    for kind in kinds:
        if not set(clocks) & set(load_catalogue()[kind].clocks):
            raise table.refuse("clocks", f"a clock that {kind} has", list(clocks))
    modifier = BookModifier(
        id=name,
        name=table.text("name"),
        kinds=kinds,
        clocks=clocks,
        factor=_range(table, "factor", 0.05, 20.0),
        new_part_fault=_range(table, "new_part_fault", 0.0, 0.5) if "new_part_fault" in table else None,
        provenance=package_commons().cite(table),
        grade=table.text("grade") if "grade" in table else None,
        not_with=table.texts("not_with"),
    )
    table.close()
    return modifier


def _range(table: Table, key: str, least: float, most: float) -> tuple[float, float]:
    low, high = table.numbers(key, 2, least, most)
    if low >= high:
        raise table.refuse(key, "a low end below the high end", [low, high])
    return low, high
