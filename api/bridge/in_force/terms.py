"""On which terms a fleet renews parts of one kind: prior, clocks, costs, caps and risk limit that are in force."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal, cast

from api.bridge.records import km_of
from planner.interval import Cap, Costs, book_cap, default_costs, shortest
from planner.interval.costs import HOURLY_RATE
from planner.interval.ways import Checking, Thumb

if TYPE_CHECKING:
    from collections.abc import Sequence

    from api.storage.tables import KindSettings
    from planner.catalogue import PartKind
    from planner.history.spells import Clock

THUMB = 0.6
"""The rule of thumb renews at this share of the age at which half of the parts have failed by the book."""

NO_THUMB = Thumb(None, None)


@dataclass(frozen=True)
class Terms:
    """What is in force for one kind in one fleet: its own settings, the catalogue's where it has none.

    Attributes:
        prior: "book" or "none", for the next refit.
        clocks: the clocks of the next refit, in the library's order.
        costs: planned and failure cost, and the chance of a bad new part.
        own_costs: True where the fleet gave the costs; otherwise they are the catalogue's estimate.
        cap: the stricter of the catalogue's limit and the fleet's own, clock by clock.
        max_risk: largest accepted chance of failure from fitting to renewal, or None.
        own_fault: True where the fleet gave the chance of a bad new part; otherwise its records may teach another.
        discount: how much less a cost counts for each year that it lies ahead, the same for a fleet's every kind.
        checking: what a look at the part costs and finds; None where its wear does not show.
        thumb: the rule of thumb to compare with.
    """

    prior: Literal["book", "none"]
    clocks: tuple[Clock, ...]
    costs: Costs
    own_costs: bool
    cap: Cap
    max_risk: float | None
    own_fault: bool = False
    discount: float = 0.0
    checking: Checking | None = None
    thumb: Thumb = NO_THUMB

    def with_fault(self, learnt: float | None) -> Terms:
        """The same with the chance of a bad new part that the fleet's records teach, unless the fleet gave its own.

        A risk limit that a new part could not meet would forbid every interval: the chance stays below half of it.
        """
        if learnt is None or self.own_fault:
            return self
        most = 1.0 if self.max_risk is None else self.max_risk / 2
        return replace(self, costs=replace(self.costs, new_part_fault=min(learnt, most)))

    @cached_property
    def fingerprint(self) -> str:
        """Of what an interval table depends on beside the life: costs, caps, risk limit, discount rate."""
        content = [asdict(self.costs), asdict(self.cap), self.max_risk]
        checking = None if self.checking is None else asdict(self.checking)
        return digest([*content, self.discount, checking, asdict(self.thumb)])


def terms_of(kind: PartKind, row: KindSettings | None, discount: float = 0.0) -> Terms:
    """The terms in force for a kind, at a fleet's discount rate.

    Raises:
        CostError: stored costs make no sense together.
    """
    if row is None:
        clocks = cast("tuple[Clock, ...]", kind.clocks)
        return Terms(
            "book", clocks, default_costs(kind), own_costs=False, cap=book_cap(kind), max_risk=kind.max_risk,
            discount=discount, checking=_checking(kind, None), thumb=_thumb(kind),
        )  # fmt: skip
    return Terms(
        prior="none" if row.prior == "none" else "book",
        clocks=_clocks(kind, row.clocks),
        costs=_costs(kind, row),
        own_costs=row.planned is not None,
        cap=shortest(book_cap(kind), Cap(km=km_of(row.cap_value, row.cap_unit), years=row.cap_years)),
        max_risk=_stricter(kind.max_risk, row.max_risk),
        own_fault=row.new_part_fault is not None,
        discount=discount,
        checking=_checking(kind, row),
        thumb=_thumb(kind),
    )


def digest(content: Any) -> str:
    """A short, stable fingerprint of JSON-able content."""
    text = json.dumps(content, sort_keys=True, default=str)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def _clocks(kind: PartKind, chosen: Sequence[str] | None) -> tuple[Clock, ...]:
    wanted = kind.clocks if chosen is None else chosen
    return cast("tuple[Clock, ...]", tuple(clock for clock in ("distance", "age") if clock in wanted))


def _costs(kind: PartKind, row: KindSettings) -> Costs:
    book = default_costs(kind)
    return Costs(
        planned=book.planned if row.planned is None else row.planned,
        failure=book.failure if row.failure is None else row.failure,
        new_part_fault=book.new_part_fault if row.new_part_fault is None else row.new_part_fault,
    )


def _checking(kind: PartKind, row: KindSettings | None) -> Checking | None:
    """The fleet's own figures, the catalogue's where it gave none; None where nothing is known of how wear shows."""
    book = kind.wear_shows
    share = (row and row.delay_share) or (book and book.share)
    finds = (row and row.check_sensitivity) or (book and book.finds)
    cost = (row and row.check_cost) or (book and book.minutes / 60.0 * HOURLY_RATE)
    return None if not (share and finds and cost) else Checking(cost, share, finds)


def _thumb(kind: PartKind) -> Thumb:
    """The handbook's way: a share of the age or distance at which half of the parts have failed by the book."""
    km = None if kind.distance is None else THUMB * kind.distance.p50
    return Thumb(km, None if kind.age is None else THUMB * kind.age.p50)


def _stricter(book: float | None, own: float | None) -> float | None:
    given = [limit for limit in (book, own) if limit is not None]
    return min(given, default=None)
