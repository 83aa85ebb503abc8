"""Conditions under which a complaint shows, and how much each speaks for or against a kind."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from planner.catalogue.commons import look_up
from planner.catalogue.loader import load_catalogue, package_commons, package_texts
from planner.catalogue.reading import parse_toml

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.catalogue.reading import Table
    from planner.catalogue.values import Provenance


@dataclass(frozen=True, slots=True)
class Condition:
    """A circumstance that a keeper notices.

    Attributes:
        id: short name, e.g. "warm".
        name: in words.
        ratios: kind id -> P(noticed | this kind is at fault) / P(noticed | another cause); 1 for kinds not named.
        provenance: of the ratios.
    """

    id: str
    name: str
    ratios: Mapping[str, float]
    provenance: Provenance


@cache
def load_conditions() -> Mapping[str, Condition]:
    """The conditions that come with the planner, by id; read at the first call and kept.

    Raises:
        CatalogueError: naming file, condition and field.
    """
    return read_conditions(package_texts("conditions"))


def read_conditions(texts: Mapping[str, str]) -> Mapping[str, Condition]:
    """Conditions from TOML texts by file name.

    Raises:
        CatalogueError: naming file, condition and field.
    """
    conditions: dict[str, Condition] = {}
    for file, text in texts.items():
        root = parse_toml(text, file)
        for name, table in root.named_tables("condition"):
            conditions[name] = _read(name, table)
        root.close()
    return MappingProxyType(conditions)


def _read(name: str, table: Table) -> Condition:
    ratios = table.table("ratios")
    if ratios is None:
        raise table.refuse("ratios", "a table of kinds with their ratios, which may be empty", None)
    for kind in ratios:
        look_up(ratios, kind, kind, load_catalogue())
    commons = package_commons()
    condition = Condition(
        id=name,
        name=table.text("name"),
        ratios=MappingProxyType({kind: ratios.number(kind, 0.05, 20.0) for kind in ratios}),
        provenance=commons.cite(table, commons.figures["ratio"]),
    )
    table.close()
    return condition
