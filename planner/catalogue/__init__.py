"""Part kinds of ageing cars as data: clocks, caps, costs, access, cautions, each figure with its provenance."""

from __future__ import annotations

from planner.catalogue.catalogue import Catalogue
from planner.catalogue.checks import Check, load_checks, own_check, read_checks, with_own_worth
from planner.catalogue.complaints import (
    Cause,
    Complaint,
    OtherCause,
    load_complaints,
    own_complaint,
    read_complaints,
    with_own_weights,
)
from planner.catalogue.conditions import Condition, load_conditions, read_conditions
from planner.catalogue.loader import load_catalogue, read_catalogue
from planner.catalogue.modifiers import (
    BookModifier,
    circumstances_of_cars,
    grades_of_parts,
    load_modifiers,
    modifiers_of,
    read_modifiers,
)
from planner.catalogue.values import AccessGroup, BookCap, BookClock, BookMeasure, PartKind, Provenance

__all__ = [
    "AccessGroup",
    "BookCap",
    "BookClock",
    "BookMeasure",
    "BookModifier",
    "Catalogue",
    "Cause",
    "Check",
    "Complaint",
    "Condition",
    "OtherCause",
    "PartKind",
    "Provenance",
    "circumstances_of_cars",
    "grades_of_parts",
    "load_catalogue",
    "load_checks",
    "load_complaints",
    "load_conditions",
    "load_modifiers",
    "modifiers_of",
    "own_check",
    "own_complaint",
    "read_catalogue",
    "read_checks",
    "read_complaints",
    "read_conditions",
    "read_modifiers",
    "with_own_weights",
    "with_own_worth",
]
