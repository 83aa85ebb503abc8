"""Part kinds of ageing cars as data: clocks, caps, costs, access, cautions, each figure with its provenance."""

from __future__ import annotations

from planner.catalogue.catalogue import Catalogue
from planner.catalogue.loader import load_catalogue, read_catalogue
from planner.catalogue.values import AccessGroup, BookCap, BookClock, PartKind, Provenance

__all__ = [
    "AccessGroup",
    "BookCap",
    "BookClock",
    "Catalogue",
    "PartKind",
    "Provenance",
    "load_catalogue",
    "read_catalogue",
]
