"""Life data on one or two clocks: the one encoding of every observation.

One spell is one part in one position on one car, from its fitting to its removal or to the last look at it.
On each clock a spell holds three numbers, counted from the part being new:

* ``entry``: the clock when the part came under observation (0 from new; above 0 is delayed entry);
* ``lower``: last known good;
* ``upper``: first known bad; infinite while the part has not been seen bad.

``lower == upper`` is an exact failure, ``upper = inf`` a right-censored one, ``lower == entry`` bad at the first
look (left-censored), anything else an interval. On two clocks a row is exact only if it is exact on both.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from planner.errors import SpellError
from planner.history.spell_columns import (
    BoolArray,
    ClockBounds,
    FloatArray,
    bounds_of,
    frozen,
    joined,
    picked,
    rates,
    refuse,
    row_numbers,
    same_length,
    weights,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

__all__ = ["BoolArray", "Clock", "ClockBounds", "FloatArray", "Spells"]

Clock = Literal["distance", "age"]


@dataclass(frozen=True, eq=False)
class Spells:
    """Spells of one part kind, ready for a fit.

    Make one with :meth:`on_distance`, :meth:`on_age` or :meth:`on_both`, which check what they are given.

    Attributes:
        km: bounds on the distance clock, or None.
        years: bounds on the age clock, or None.
        weight: how often each row counts, (n,); a weight of 2 is the row written twice.
        km_per_year: local rate at failure of the exact rows, (n,), nan in the others; None on one clock.
    """

    km: ClockBounds | None
    years: ClockBounds | None
    weight: FloatArray
    km_per_year: FloatArray | None = None

    @classmethod
    def on_distance(
        cls,
        lower: ArrayLike,
        upper: ArrayLike,
        entry: ArrayLike | None = None,
        weight: ArrayLike | None = None,
    ) -> Spells:
        """Spells on the distance clock alone, in km.

        Args:
            lower: last known good, (n,).
            upper: first known bad, (n,); equal to ``lower`` for an exact failure, inf for a part still good.
            entry: clock when observation began, (n,) or one number; 0 where left out.
            weight: finite numbers above zero, (n,) or one number; 1 where left out.

        Raises:
            SpellError: naming the argument and the row.
        """
        km = bounds_of(("entry", "lower", "upper"), entry, lower, upper)
        refuse(km.upper <= 0, "upper", "above 0 (a part cannot have failed at exactly 0)", km.upper)
        return cls(km, None, weights(weight, len(km.lower)))

    @classmethod
    def on_age(
        cls,
        lower: ArrayLike,
        upper: ArrayLike,
        entry: ArrayLike | None = None,
        weight: ArrayLike | None = None,
    ) -> Spells:
        """Spells on the age clock alone, in years; arguments and errors as :meth:`on_distance`."""
        years = bounds_of(("entry", "lower", "upper"), entry, lower, upper)
        refuse(years.upper <= 0, "upper", "above 0 (a part cannot have failed at exactly 0)", years.upper)
        return cls(None, years, weights(weight, len(years.lower)))

    @classmethod
    def on_both(
        cls,
        km_lower: ArrayLike,
        km_upper: ArrayLike,
        years_lower: ArrayLike,
        years_upper: ArrayLike,
        km_entry: ArrayLike | None = None,
        years_entry: ArrayLike | None = None,
        weight: ArrayLike | None = None,
        km_per_year: ArrayLike | None = None,
    ) -> Spells:
        """Spells on both clocks at once.

        A row with ``km_lower == km_upper`` and an interval of years failed while the car stood.

        Args:
            km_lower: last known good, km, (n,).
            km_upper: first known bad, km, (n,); inf exactly where ``years_upper`` is.
            years_lower: last known good, years, (n,).
            years_upper: first known bad, years, (n,).
            km_entry: km when observation began; 0 where left out.
            years_entry: years when observation began; 0 where left out.
            weight: finite numbers above zero; 1 where left out.
            km_per_year: local rate at failure, used for exact rows; where left out
                (km_upper - km_entry) / (years_upper - years_entry).

        Raises:
            SpellError: naming the argument and the row.
        """
        km = bounds_of(("km_entry", "km_lower", "km_upper"), km_entry, km_lower, km_upper)
        years = bounds_of(
            ("years_entry", "years_lower", "years_upper"), years_entry, years_lower, years_upper
        )
        same_length("years_lower", years.lower, len(km.lower))
        refuse(
            np.isinf(km.upper) != np.isinf(years.upper),
            "km_upper",
            "inf on both clocks or on neither",
            km.upper,
        )
        exact = (km.lower == km.upper) & (years.lower == years.upper)
        refuse(exact & (years.upper <= 0), "years_upper", "above 0 in an exact row", years.upper)
        rate = rates(km_per_year, km, years, exact)
        return cls(km, years, weights(weight, len(km.lower)), rate)

    def __len__(self) -> int:
        return len(self.weight)

    @property
    def clocks(self) -> tuple[Clock, ...]:
        """The clocks these spells run on: "distance", "age" or both, in that order."""
        present: list[Clock] = []
        if self.km is not None:
            present.append("distance")
        if self.years is not None:
            present.append("age")
        return tuple(present)

    @property
    def bounds(self) -> tuple[ClockBounds, ...]:
        """The bounds of the clocks present, in the order of :attr:`clocks`."""
        return tuple(b for b in (self.km, self.years) if b is not None)

    @property
    def exact(self) -> BoolArray:
        """Rows whose failure is known to the km and day: lower == upper on every clock."""
        rows = np.ones(len(self), dtype=np.bool_)
        for bounds in self.bounds:
            rows &= bounds.lower == bounds.upper
        return rows

    @property
    def censored(self) -> BoolArray:
        """Rows not seen bad: upper = inf."""
        return np.isinf(self.bounds[0].upper)

    @property
    def from_new(self) -> BoolArray:
        """Rows watched since the part was new: entry 0 on every clock."""
        rows = np.ones(len(self), dtype=np.bool_)
        for bounds in self.bounds:
            rows &= bounds.entry == 0
        return rows

    @property
    def interval(self) -> BoolArray:
        """Rows that failed somewhere between two looks, left-censored ones included."""
        return ~(self.exact | self.censored)

    def only(self, clock: Clock) -> Spells:
        """The same rows seen on one clock.

        A row that failed while the car stood has a known distance, so on the distance clock it becomes exact.

        Raises:
            SpellError: the clock is not one of these spells', or an exact failure would stand at 0 on it.
        """
        if clock not in self.clocks:
            raise SpellError("clock", f"one of {', '.join(self.clocks)}", clock)
        bounds = self.bounds[self.clocks.index(clock)]
        refuse(bounds.upper <= 0, clock, "above 0 in every failed row", bounds.upper)
        return Spells(bounds, None, self.weight) if clock == "distance" else Spells(None, bounds, self.weight)

    def take(self, rows: ArrayLike) -> Spells:
        """The rows that a boolean mask or an index array picks.

        Raises:
            SpellError: nothing would be left, or the rows are neither, of another length or beyond the last.
        """
        chosen = row_numbers(rows, len(self))
        weight = self.weight[chosen]
        rate = None if self.km_per_year is None else frozen(self.km_per_year[chosen])
        return Spells(picked(self.km, chosen), picked(self.years, chosen), frozen(weight), rate)

    def in_order(self) -> Spells:
        """The same rows sorted by what they say, so that the same papers give the same fit in whatever order they came."""
        return self.take(self.order)

    @property
    def order(self) -> NDArray[np.int64]:
        """The numbers of the rows in the order of :meth:`in_order`, (n,)."""
        columns = [side for b in self.bounds for side in (b.entry, b.lower, b.upper)]
        rate = [] if self.km_per_year is None else [self.km_per_year]
        return np.lexsort([self.weight, *rate, *reversed(columns)])

    @staticmethod
    def concat(parts: Sequence[Spells]) -> Spells:
        """All rows of several spells on the same clocks, one after another.

        Raises:
            SpellError: no spells, something that is none, or clocks that differ.
        """
        if not isinstance(parts, Iterable) or not all(isinstance(part, Spells) for part in parts):
            raise SpellError("parts", "Spells, one or more in a list", parts)
        if not parts:
            raise SpellError("parts", "at least one Spells", parts)
        clocks = {p.clocks for p in parts}
        if len(clocks) > 1:
            raise SpellError("parts", "the same clocks in all", sorted(clocks))
        weight = frozen(np.concatenate([p.weight for p in parts]))
        rates = [p.km_per_year for p in parts if p.km_per_year is not None]
        rate = frozen(np.concatenate(rates)) if rates else None
        return Spells(joined([p.km for p in parts]), joined([p.years for p in parts]), weight, rate)
