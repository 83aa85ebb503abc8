"""Reads which kinds show their wear before they fail, for how long, and how well a look finds it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.catalogue.reading import parse_toml
from planner.catalogue.values import Provenance, WearShows

if TYPE_CHECKING:
    from collections.abc import Mapping

FILE = "wear_shows.toml"


def read_wear_shows(texts: Mapping[str, str]) -> tuple[dict[str, WearShows], Provenance | None]:
    """What there is to say, by kind, and on what it all stands; nothing where the file is not among the texts.

    Raises:
        CatalogueError: naming file, kind and field.
    """
    if FILE not in texts:
        return {}, None
    root = parse_toml(texts[FILE], FILE)
    ((_, figure),) = root.named_tables("figure")
    provenance = Provenance("judgement", figure.text("note"))
    figure.choice("basis", ("judgement",))
    figure.close()
    table = root.table("wear_shows")
    found = {}
    for kind in table or ():
        values = () if table is None else table.figures(kind, 3)
        found[kind] = WearShows(*values)
    root.close()
    return found, provenance
