"""Repairs that help a little: the clocks a part stands at after cleaning, dressing, re-gapping or mending.

Kijima (1989), virtual age: after the nth repair v⁺ = q·v⁻ (type II: the repair works on all wear so far) or
v⁺ = v⁻ - (1 - q)·x (type I: only on the wear x since the repair before). q = 0 is as good as new, 1 as old as before.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

from planner.errors import RecordError
from planner.history.clocks import PartClocks

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.history.part_history import Event, Timeline
    from planner.history.spells import Clock

CLEANING_LEFT = (0.3, 0.9)
"""Range in which q of cleaning and dressing is expected (expert judgement); near 1 it must not pass for as new."""

_NOTHING: Mapping[tuple[str, str], float] = MappingProxyType({})


@dataclass(frozen=True)
class VirtualAge:
    """How far each repair sets each clock back.

    Attributes:
        left: share q of the clock left after a repair, by (action, clock); 1 for those not named.
        form: "II", or "I" where a repair undoes only the wear since the one before.
    """

    left: Mapping[tuple[str, str], float] = field(default_factory=lambda: _NOTHING)
    form: Literal["I", "II"] = "II"

    def __post_init__(self) -> None:
        for key, share in self.left.items():
            if not 0.0 <= share <= 1.0:
                raise RecordError(f"left[{key}]", "a share from 0 (as new) to 1 (as old as before)", share)
        if self.form not in ("I", "II"):
            raise RecordError("form", '"I" or "II"', self.form)

    @property
    def sets_back(self) -> bool:
        """True where any repair sets any clock back."""
        return any(share < 1.0 for share in self.left.values())

    def after(self, before: float, since_last: float, action: str, clock: str) -> float:
        """Virtual clock right after a repair, from the one right before and the wear since the repair before that."""
        share = self.left.get((action, clock), 1.0)
        return share * before if self.form == "II" else before - (1.0 - share) * since_last


AS_OLD_AS_BEFORE = VirtualAge()
"""Every repair leaves the clocks where they were: the plain form, and never as new."""


@dataclass(frozen=True)
class _VirtualClocks(PartClocks):
    """Clocks set back at each repair.

    Attributes:
        repairs: the repairs in order of time.
        set_back: how far.
    """

    repairs: tuple[Event, ...] = ()
    set_back: VirtualAge = AS_OLD_AS_BEFORE

    def at(self, event: Event, clock: Clock) -> float:
        return self._virtual(event, clock, [r for r in self.repairs if r.on.likely < event.on.likely])

    def entry_at(self, event: Event, clock: Clock) -> float:
        return self._virtual(event, clock, [r for r in self.repairs if r.on.likely <= event.on.likely])

    def _virtual(self, event: Event, clock: Clock, done: list[Event]) -> float:
        start = PartClocks.at(self, self.fitted, clock)
        actual, virtual = start, start
        for repair in done:
            now = PartClocks.at(self, repair, clock)
            virtual = self.set_back.after(virtual + now - actual, now - actual, repair.action or "", clock)
            actual = now
        return virtual + PartClocks.at(self, event, clock) - actual


def virtual_clocks(clocks: PartClocks, line: Timeline, set_back: VirtualAge) -> PartClocks:
    """The part's clocks with each repair's effect; the same clocks where no repair sets anything back."""
    repairs = tuple(look for look in line.looks if look.what == "repaired")
    if not (repairs and set_back.sets_back):
        return clocks
    return _VirtualClocks(clocks.fitted, clocks.km_at_fitting, clocks.years_at_fitting, repairs, set_back)
