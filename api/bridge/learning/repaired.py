"""What repairs leave of the wear of one kind's parts, learnt from a fleet's records and kept beside the life."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from api.bridge import gather, store
from planner.catalogue import load_catalogue
from planner.errors import FitError
from planner.history.conversion import spells_from
from planner.history.spells import Spells
from planner.history.virtual_age import AS_OLD_AS_BEFORE
from planner.life.prior import book_prior
from planner.life.repair_shares import (
    TAKES_WEAR_OFF,
    RepairShare,
    expected_share,
    repair_shares,
    set_back,
    takes_wear_off,
)

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from sqlmodel import Session

    from api.bridge.in_force.terms import Terms
    from planner.history.part_history import PartHistory
    from planner.history.spells import Clock
    from planner.history.virtual_age import VirtualAge
    from planner.life.model import Life

KEY = "repairs"
"""Where a stored life's content keeps it; absent where no part of the kind was repaired."""

MOST_REPAIRED = 1_000
"""Of more repaired parts the share is learnt from so many, those fitted first: each value tried converts them anew."""


def learnt_shares(
    session: Session, fleet_id: str, kind: str, terms: Terms, today: date
) -> dict[str, RepairShare]:
    """The posterior by repair; empty where no part of the kind was repaired so, or nothing of the book is wanted.

    Histories are gone through only where such a repair is on record.
    """
    if terms.prior == "none" or not store.any_repaired(session, fleet_id, kind, TAKES_WEAR_OFF):
        return {}
    repaired: list[PartHistory] = []
    others: list[Spells] = []
    for batch in gather.cars_with(session, fleet_id, kind):
        parts = [part.history for car in batch for part in car.parts if part.row.kind == kind]
        repaired += [part for part in parts if takes_wear_off(part)]
        rest = [part for part in parts if not takes_wear_off(part)]
        found = spells_from(rest, terms.clocks, today, contradictions="leave out").spells
        others += [] if found is None else [found]
    repaired = sorted(repaired, key=_first_fitted)[:MOST_REPAIRED]
    prior = book_prior(load_catalogue()[kind], terms.clocks)
    together = None if not others else Spells.concat(others)
    try:
        return repair_shares(
            repaired, None if together is None else together.take(together.order), prior, today
        )
    except FitError:
        return {}


def repairs_in_fit(shares: Mapping[str, RepairShare], terms: Terms) -> VirtualAge:
    """How far repairs set clocks back in a fit: not at all where nothing of the book is wanted."""
    return AS_OLD_AS_BEFORE if terms.prior == "none" else set_back(shares, terms.clocks)


def repairs_in_forecasts(shares: Mapping[str, RepairShare], life: Life, *, safety: bool) -> VirtualAge:
    """The same for the dates of parts that go by a life: no repair puts off those of a safety part."""
    return AS_OLD_AS_BEFORE if safety or life.prior is None else set_back(shares, life.clocks)


def to_json(shares: Mapping[str, RepairShare]) -> dict[str, Any]:
    """As a stored life's content keeps it."""
    return {action: asdict(share) for action, share in shares.items()}


def from_json(content: Mapping[str, Any] | None) -> dict[str, RepairShare]:
    """What `to_json` wrote; nothing for a life stored without."""
    return {action: RepairShare(**share) for action, share in (content or {}).items()}


def said(shares: Mapping[str, RepairShare], clock: Clock) -> dict[str, Any]:
    """What a repair leaves, in figures and in a sentence.

    Args:
        shares: as learnt; empty: what the trade notes expect.
        clock: that repairs set back.
    """
    wear = "wear by distance" if clock == "distance" else "ageing"
    if not shares:
        book = expected_share()
        words = f"A repair leaves about {_percent(book)} of the {wear}: all book, as none is on record in this fit."
        return {"clock": clock, "words": words, "learnt": [], "expected": _figures(book)}
    each = [f"{action}: about {_percent(one)} {_from(one)}" for action, one in shares.items()]
    return {
        "clock": clock,
        "words": f"What a repair leaves of the {wear} – {'; '.join(each)}.",
        "learnt": [{"action": action, **_figures(one)} for action, one in shares.items()],
        "expected": _figures(expected_share()),
    }


def _percent(one: RepairShare) -> str:
    return f"{_tens(one.mean)} % (between {_tens(one.low)} % and {_tens(one.high)} %)"


def _tens(share: float) -> int:
    return round(share * 20) * 5


def _from(one: RepairShare) -> str:
    count = f"{one.repairs} {'repair' if one.repairs == 1 else 'repairs'}"
    return f"from {count}, {round(100 * one.prior_share)} % book"


def _figures(one: RepairShare) -> dict[str, Any]:
    return {name: round(value, 3) for name, value in asdict(one).items()}


def _first_fitted(part: PartHistory) -> tuple[str, ...]:
    fitted = part.fitment.fitted_on
    days = [] if fitted is None else [fitted.likely.isoformat()]
    return (*days, *(repair.repaired_on.isoformat() for repair in part.repairs))
