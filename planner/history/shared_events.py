"""Complaints that several parts answered for: renewed together, one was guilty. Marked here; weighed where lives are known.

The contribution of such an event is ln Σ_j c_j·h_j - Σ_j Λ_j over the parts j renewed against it, with c_j how well a failure of
part j fits the complaint, h_j its hazard and Λ_j its cumulative hazard at removal: the marginal likelihood of a masked cause. The
equal shares that `spells_from` gives the rows are its plain form.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import date

    from planner.history.evidence import Reason
    from planner.history.part_history import PartHistory
    from planner.history.records import Removal

AGAINST_A_COMPLAINT: tuple[Reason, ...] = ("on suspicion", "failed, as reported")
"""Reasons that leave open which of several parts was guilty."""

DAYS_APART = 3
"""Parts renewed at once came out within so many days, as far as their days are known (common practice, no source)."""


@dataclass(frozen=True)
class Candidate:
    """One part that may have been guilty.

    Attributes:
        ref: its fitment's key.
        kind: its part kind.
        fit: how well its failure fits the complaint, above 0; only the ratios between candidates count.
    """

    ref: str
    kind: str
    fit: float = 1.0


@dataclass(frozen=True)
class SharedEvent:
    """One complaint cured by renewing several parts at once.

    Attributes:
        ref: the caller's key for the complaint.
        vehicle: the car's key.
        candidates: the parts renewed; exactly one of them was guilty.
    """

    ref: str
    vehicle: str
    candidates: tuple[Candidate, ...]


def at_once(days: Iterable[tuple[date, date]]) -> bool:
    """Whether parts taken out on such days, each its first and last possible one, can have come out at once."""
    found = list(days)
    return not found or (max(d[0] for d in found) - min(d[1] for d in found)).days <= DAYS_APART


def shared_events(
    histories: Iterable[PartHistory], fit: Mapping[str, Mapping[str, float]] | None = None
) -> tuple[SharedEvent, ...]:
    """Gather the shared events of a fleet, all part kinds together.

    Args:
        histories: parts of any kind; those whose removal carries the same `shared_event` belong together.
        fit: by shared event, then by fitment key, how well that part fits the complaint; where left out, what its removal
            says, and where that says nothing the mean of what the event's other removals say, or 1.

    Returns:
        Events that were cured, in the order in which they first appear. One that was not cured leaves every part good, and one
        with a single part is no shared event: neither is given.

    Raises:
        RecordError: the parts are on different cars, disagree whether it was cured or how many were changed together, came out
            days apart or for a reason that leaves no doubt, one is given twice or more were changed than are given; `fit`
            names an event that none of them has or a part that was not renewed against it, or is not a number above 0.
    """
    grouped: dict[str, list[PartHistory]] = {}
    for history in histories:
        if history.removal is not None and history.removal.shared_event is not None:
            grouped.setdefault(history.removal.shared_event, []).append(history)
    fits = fit or {}
    for name in fits:
        if name not in grouped:
            raise RecordError(f"fit[{name}]", "an event against which parts were renewed", name)
    found = (_event(name, parts, fits.get(name, {})) for name, parts in grouped.items())
    return tuple(event for event in found if event is not None)


def _event(name: str, parts: list[PartHistory], fit: Mapping[str, float]) -> SharedEvent | None:
    cars = {part.vehicle.ref for part in parts}
    if len(cars) > 1:
        raise RecordError(f"shared_event[{name}]", "parts of one car", sorted(cars))
    removals = [part.removal for part in parts if part.removal is not None]
    _agree(name, removals)
    outcomes = {removal.cured for removal in removals}
    refs = [part.fitment.ref for part in parts]
    on_the_car = set(refs)
    if len(on_the_car) < len(refs):
        raise RecordError(f"shared_event[{name}].parts", "each part once", sorted(refs))
    for ref, value in fit.items():
        if ref not in on_the_car:
            raise RecordError(f"fit[{name}][{ref}]", "a part that was renewed against this event", ref)
        if not (math.isfinite(value) and value > 0.0):
            raise RecordError(f"fit[{name}][{ref}]", "a finite number above 0", value)
    if outcomes != {True} or len(parts) < 2:
        return None
    told = max(removal.changed_together for removal in removals)
    if told > 1 and told != len(parts):
        wanted = f"as many parts that bear its name as were changed together, {told}"
        raise RecordError(f"shared_event[{name}].changed_together", wanted, len(parts))
    said = {
        part.fitment.ref: part.removal.complaint_fit
        for part in parts
        if part.removal is not None and part.removal.complaint_fit is not None
    } | dict(fit)
    plain = sum(said.values()) / len(said) if said else 1.0
    candidates = tuple(
        Candidate(part.fitment.ref, part.fitment.kind, said.get(part.fitment.ref, plain)) for part in parts
    )
    return SharedEvent(name, cars.pop(), candidates)


def _agree(name: str, removals: list[Removal]) -> None:
    """Refuse removals that contradict each other about their one complaint."""
    place = f"shared_event[{name}]"
    outcomes = {removal.cured for removal in removals}
    if len(outcomes) > 1:
        raise RecordError(f"{place}.cured", "one outcome for all its parts", sorted(map(str, outcomes)))
    for removal in removals:
        if removal.reason not in AGAINST_A_COMPLAINT:
            wanted = f"{' or '.join(AGAINST_A_COMPLAINT)}: otherwise the cause is known"
            raise RecordError(f"{place}.reason", wanted, removal.reason)
    days = [removal.removed_on for removal in removals]
    if not at_once((day.earliest, day.latest) for day in days):
        wanted = f"days at most {DAYS_APART} days apart, for parts renewed at once"
        raise RecordError(f"{place}.removed_on", wanted, [str(day) for day in days])
    told = {removal.changed_together for removal in removals} - {1}
    if len(told) > 1:
        raise RecordError(f"{place}.changed_together", "one number for all its parts", sorted(told))
