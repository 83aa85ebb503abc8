"""Rows of a kind by group, and what a pooled fit refuses before it begins."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, TypeVar

from planner.errors import InputError, PriorError, SpellError
from planner.history.spells import Spells
from planner.life.checks import labels, positive, weights_add_up
from planner.life.counts.binning import BinnedSpells
from planner.life.prior import LifePrior

if TYPE_CHECKING:
    from collections.abc import Hashable, Sequence

G = TypeVar("G", bound="Hashable")


def by_group_of(
    spells: Spells | Mapping[G, Spells | BinnedSpells], groups: Sequence[G] | None
) -> dict[G, Spells | BinnedSpells]:
    """Rows, or counts, by group.

    Raises:
        SpellError: rows and groups that do not match, or a row without a group.
    """
    if not isinstance(spells, Spells):
        if not isinstance(spells, Mapping):
            raise SpellError("spells", "Spells, or Spells by group", spells)
        if groups is not None:
            raise SpellError("groups", "None where the spells come by group", groups)
        if not spells:
            raise SpellError("spells", "at least one group", spells)
        return dict(spells)
    rows: dict[G, list[int]] = {}
    for row, label in enumerate(labels("groups", groups, len(spells), "group")):
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
    weights_add_up(sum(_histories(rows) for rows in by_group.values()))
    positive("usual_spread", usual_spread)


def _histories(rows: Spells | BinnedSpells) -> float:
    return float(rows.weight.sum()) if isinstance(rows, Spells) else rows.histories


def check_named(by_group: Mapping[G, object], **named: Mapping[G, object]) -> None:
    """Refuse a group that no spell has: what was said of it would be passed over in silence."""
    for field, groups in named.items():
        for name in groups:
            if name not in by_group:
                raise InputError(field, "groups that the spells have", name)
