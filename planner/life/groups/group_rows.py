"""Rows of a kind by group, and what a pooled fit refuses before it begins."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from planner.errors import InputError, PriorError, SpellError
from planner.history.spells import Spells
from planner.life.checks import positive
from planner.life.counts.binning import BinnedSpells
from planner.life.prior import LifePrior

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping, Sequence

G = TypeVar("G", bound="Hashable")


def by_group_of(
    spells: Spells | Mapping[G, Spells | BinnedSpells], groups: Sequence[G] | None
) -> dict[G, Spells | BinnedSpells]:
    """Rows, or counts, by group.

    Raises:
        SpellError: rows and groups that do not match.
    """
    if not isinstance(spells, Spells):
        if groups is not None:
            raise SpellError("groups", "None where the spells come by group", groups)
        if not spells:
            raise SpellError("spells", "at least one group", spells)
        return dict(spells)
    labels = [] if groups is None else list(groups)
    if len(labels) != len(spells):
        raise SpellError("groups", f"a group for each of {len(spells)} rows", groups)
    rows: dict[G, list[int]] = {}
    for row, label in enumerate(labels):
        rows.setdefault(label, []).append(row)
    return {label: spells.take(own) for label, own in rows.items()}


def check_rows(by_group: Mapping[G, Spells | BinnedSpells], prior: LifePrior, usual_spread: float) -> None:
    """Refuse rows that are none or on other clocks than the prior, and a spread not above 0."""
    if not isinstance(prior, LifePrior):
        raise PriorError("prior", "a LifePrior: pooling wants one", prior)
    for name, rows in by_group.items():
        if not isinstance(rows, Spells | BinnedSpells):
            raise InputError("spells", f"Spells or BinnedSpells of group {name!r}", rows)
        if rows.clocks != prior.clocks:
            raise PriorError(
                "prior", f"clocks {' and '.join(rows.clocks)}, as group {name!r} has", prior.clocks
            )
    positive("usual_spread", usual_spread)


def check_named(by_group: Mapping[G, object], **named: Mapping[G, object]) -> None:
    """Refuse a group that no spell has: what was said of it would be passed over in silence."""
    for field, groups in named.items():
        for name in groups:
            if name not in by_group:
                raise InputError(field, "groups that the spells have", name)
