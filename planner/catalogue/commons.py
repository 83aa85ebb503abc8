"""What all kinds share: sources, default provenance, cautions, access groups, families and their order."""

from __future__ import annotations

from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import TYPE_CHECKING

from planner.catalogue.reading import Table, parse_toml
from planner.catalogue.values import BASES, AccessGroup, Basis, Provenance
from planner.errors import CatalogueError

if TYPE_CHECKING:
    from collections.abc import Mapping

FIGURES = (
    "spread_scale",
    "spread_shape",
    "scale_raised",
    "scale_kept",
    "new_part_fault",
    "stops_car",
    "labour_hours",
    "cost_class",
    "max_risk",
    "setup_hours",
    "share",
    "sensitivity",
    "specificity",
    "minutes",
    "money",
    "ratio",
)
"""Figures that most entries owe to one and the same reasoning, written down once in `figures.toml`."""


@dataclass(frozen=True, slots=True)
class Family:
    """A family of the trade: its name, the files that hold its kinds, and its cautions in words."""

    name: str
    files: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Commons:
    """Everything that the kinds, complaints and checks refer to by name."""

    sources: Mapping[str, str]
    figures: Mapping[str, Provenance]
    cautions: Mapping[str, str]
    access_groups: Mapping[str, AccessGroup]
    families: tuple[Family, ...]

    def cite(self, table: Table, default: Provenance | None = None, basis_key: str = "basis") -> Provenance:
        """Provenance from a table's basis, `sources` and `note`; the default where it has none of them.

        Raises:
            CatalogueError: a page without a source, an unknown source, or neither source nor note.
        """
        if default is not None and not any(key in table for key in (basis_key, "sources", "note")):
            return default
        basis: Basis = table.choice(basis_key, BASES, "judgement")
        tags, note = table.texts("sources"), table.text("note", "")
        if basis == "page" and not tags:
            raise table.refuse("sources", "the page that the figure stands on", list(tags))
        text = " ".join(part for part in (note, self.citations(table, tags)) if part)
        if not text:
            raise table.refuse("note", "a source or a reason", note)
        return Provenance(basis, text, tags)

    def caution(self, table: Table, key: str) -> tuple[str, ...]:
        """Texts of the cautions that a table names by topic."""
        topics = table.texts(key)
        for topic in topics:
            look_up(table, key, topic, self.cautions)
        return tuple(self.cautions[topic] for topic in topics)

    def citations(self, table: Table, tags: tuple[str, ...]) -> str:
        """The sources with these tags, in words; empty without tags."""
        for tag in tags:
            look_up(table, "sources", tag, self.sources)
        cited = "; ".join(self.sources[tag] for tag in tags)
        return f"Read: {cited}." if cited else ""


def read_commons(texts: Mapping[str, str]) -> Commons:
    """Read `sources`, `figures`, `cautions`, `access_groups` and `families` from their TOML texts.

    Raises:
        CatalogueError: naming file, entry and field.
    """
    commons = Commons(_read_sources(_root(texts, "sources.toml")), {}, {}, {}, ())
    commons = replace(commons, figures=_read_figures(_root(texts, "figures.toml"), commons))
    commons = replace(commons, cautions=_read_cautions(_root(texts, "cautions.toml"), commons))
    commons = replace(commons, access_groups=_read_groups(_root(texts, "access_groups.toml"), commons))
    return replace(commons, families=_read_families(_root(texts, "families.toml"), commons))


def _root(texts: Mapping[str, str], file: str) -> Table:
    if file not in texts:
        raise CatalogueError(file, "a file of the catalogue", None)
    return parse_toml(texts[file], file)


def _read_sources(root: Table) -> dict[str, str]:
    source = root.table("source")
    sources = {} if source is None else {tag: source.text(tag) for tag in source}
    root.close()
    return sources


def _read_figures(root: Table, commons: Commons) -> dict[str, Provenance]:
    figures = {}
    for name, table in root.named_tables("figure"):
        figures[name] = commons.cite(table)
        table.close()
    for name in FIGURES:
        if name not in figures:
            raise root.refuse(name, "a default provenance", None)
    root.close()
    return figures


def _read_cautions(root: Table, commons: Commons) -> dict[str, str]:
    cautions = {}
    for name, table in root.named_tables("caution"):
        for tag in table.texts("sources"):
            look_up(table, "sources", tag, commons.sources)
        cautions[name] = f"{table.text('text')} Work for: {table.text('who')}."
        table.close()
    root.close()
    return cautions


def _read_groups(root: Table, commons: Commons) -> dict[str, AccessGroup]:
    groups = {}
    for name, table in root.named_tables("group"):
        provenance = commons.cite(table, commons.figures["setup_hours"])
        groups[name] = AccessGroup(name, table.number("setup_hours", 0.0, 20.0), provenance)
        table.close()
    root.close()
    return groups


def _read_families(root: Table, commons: Commons) -> tuple[Family, ...]:
    families = []
    for table in root.list_of_tables("family"):
        families.append(Family(table.text("name"), table.texts("files"), commons.caution(table, "cautions")))
        table.close()
    root.close()
    return tuple(families)


def look_up(table: Table, key: str, name: str, shelf: Mapping[str, object]) -> None:
    """Refuse a name that the shelf does not hold, with the nearest ones.

    Raises:
        CatalogueError: naming the field.
    """
    if name not in shelf:
        near = get_close_matches(name, shelf, n=3, cutoff=0.4)
        raise table.refuse(key, f"a known name, such as {', '.join(near or sorted(shelf)[:3])}", name)
