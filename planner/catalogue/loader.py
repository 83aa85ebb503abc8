"""Loads the catalogue from the TOML files beside this package, once."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import TYPE_CHECKING

from planner.catalogue.catalogue import Catalogue
from planner.catalogue.commons import Commons, read_commons
from planner.catalogue.kinds import read_kinds
from planner.catalogue.wear_shows import FILE as WEAR_SHOWS
from planner.catalogue.wear_shows import read_wear_shows
from planner.errors import CatalogueError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.catalogue.values import PartKind


@cache
def load_catalogue() -> Catalogue:
    """The catalogue that comes with the planner; read at the first call and kept.

    Raises:
        CatalogueError: a file is broken; names file, kind and field.
    """
    return _assemble({**package_texts("kinds"), **package_texts("commons")}, package_commons())


def read_catalogue(texts: Mapping[str, str]) -> Catalogue:
    """A catalogue from TOML texts by file name: the common files and one or more files of kinds.

    Raises:
        CatalogueError: naming file, kind and field.
    """
    return _assemble(texts, read_commons(texts))


@cache
def package_commons() -> Commons:
    """Sources, default provenance, cautions, access groups and families that come with the planner."""
    return read_commons(package_texts("commons"))


def package_texts(shelf: str) -> dict[str, str]:
    """File name -> text of the TOML files on one shelf ("commons", "kinds", "complaints" or "checks")."""
    folder = files("planner.catalogue").joinpath("data", shelf)
    entries = sorted((e for e in folder.iterdir() if e.name.endswith(".toml")), key=lambda entry: entry.name)
    return {entry.name: entry.read_text(encoding="utf-8") for entry in entries}


def _assemble(texts: Mapping[str, str], commons: Commons) -> Catalogue:
    kinds: list[PartKind] = []
    origin: dict[str, str] = {}
    for family in commons.families:
        for name in family.files:
            file = f"{name}.toml"
            if file not in texts:
                raise CatalogueError("families.toml: files", "files of the catalogue", file)
            for kind in read_kinds(texts[file], file, family, commons):
                if kind.id in origin:
                    raise CatalogueError(
                        f"{file}: {kind.id}", f"an id that {origin[kind.id]} does not use", kind.id
                    )
                origin[kind.id] = file
                kinds.append(kind)
    _check_companions(kinds, origin)
    kinds = _with_wear_shows(kinds, texts)
    cautions = {family.name: family.cautions for family in commons.families}
    return Catalogue.of(kinds, cautions, commons.access_groups)


def _with_wear_shows(kinds: list[PartKind], texts: Mapping[str, str]) -> list[PartKind]:
    """The kinds with how their wear shows, where something is known of it."""
    shows, provenance = read_wear_shows(texts)
    known = {kind.id for kind in kinds}
    for name in shows:
        if name not in known:
            raise CatalogueError(f"{WEAR_SHOWS}: wear_shows", "ids of kinds of the catalogue", name)
    if provenance is None:
        return kinds
    return [
        replace(
            kind,
            wear_shows=shows[kind.id],
            provenance=MappingProxyType({**kind.provenance, "wear_shows": provenance}),
        )
        if kind.id in shows
        else kind
        for kind in kinds
    ]


def _check_companions(kinds: list[PartKind], origin: Mapping[str, str]) -> None:
    """Refuse a kind that is renewed together with itself or with a kind that is not there."""
    for kind in kinds:
        for other in kind.together_with:
            if other == kind.id or other not in origin:
                field = f"{origin[kind.id]}: {kind.id}: together_with"
                raise CatalogueError(field, "ids of other kinds of the catalogue", other)
