"""Age replacement by renewal and reward: renewals and failures per year for every interval, over all draws.

For an interval τ, planned cost cp and failure cost cf the long-run cost per year is
g(τ) = [cp·S(τ) + cf·(1 - S(τ))] / ∫0^τ S(t) dt (Barlow & Proschan, Mathematical Theory of Reliability, 1965,
ch. 4). Its mean over draws is linear in the costs, so two curves serve all of them: planned renewals per year
E[S/∫S] and failures per year E[(1 - S)/∫S].
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from planner.errors import InputError

if TYPE_CHECKING:
    from planner.interval.path import PathHazard

Array = NDArray[np.float64]

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(6)
_COARSE = 10.0 ** np.linspace(-9.0, 12.0, 85)
_PANEL_RATIO = 1.1
_UNWORN = 1e-7
_WORN_OUT = 40.0


@dataclass(frozen=True)
class Rates:
    """Long-run rates of one or more intervals, each field shaped like the years asked for.

    Attributes:
        planned: planned renewals per year (discounted per year of running where there is a discount).
        failures: failures per year, likewise.
        survival: chance that a new part reaches the interval, mean over draws.
    """

    planned: Array
    failures: Array
    survival: Array

    def cost(self, planned: float, failure: float) -> Array:
        """Mean cost per year."""
        return planned * self.planned + failure * self.failures


@dataclass(frozen=True)
class CostCurve:
    """Rates on a log grid of intervals, exact in between by Gauss-Legendre panels.

    Attributes:
        years: ascending grid of intervals, from practically unworn to worn out in every draw.
        rates: the rates on the grid.
        failures_if_run: failures per year when only failed parts are renewed; 0 where nothing wears.
    """

    years: Array
    rates: Rates
    failures_if_run: float
    hazard: PathHazard = field(repr=False)
    survives_fitting: float
    discount: float
    _lived: Array = field(repr=False)

    @property
    def ends(self) -> bool:
        """Whether a part wears out at all on this path."""
        return self.failures_if_run > 0

    def at(self, years: Array) -> Rates:
        """Rates at any intervals (positive years, shape (n,))."""
        lived = self.lived_until(years)
        return _rates(self.hazard(years), lived, years, self.survives_fitting, self.discount)

    def lived_until(self, years: Array) -> Array:
        """Discounted time that a part proven at fitting runs up to each of the years, shape (draws, n)."""
        place = np.searchsorted(self.years, years, side="right")
        start = np.concatenate(([0.0], self.years))[place]
        before = np.concatenate((np.zeros((len(self._lived), 1)), self._lived), axis=1)[:, place]
        return np.asarray(before + _panels(self.hazard, start, years, self.discount))

    def mean_survival(self, years: Array) -> Array:
        """Chance that a new part is still good after so many years, mean over draws."""
        return np.asarray(self.survives_fitting * np.exp(-self.hazard(years)).mean(axis=0))


def cost_curve(hazard: PathHazard, *, new_part_fault: float = 0.0, discount: float = 0.0) -> CostCurve:
    """Rates for every interval of a part whose cumulative hazard over years from new is given per draw.

    Args:
        hazard: years, shape (n,), to cumulative hazard, shape (draws, n); any survival function will do.
        new_part_fault: chance that a new part fails at once.
        discount: continuous discount rate per year, 0 or more.

    Raises:
        InputError: a life that is over before the shortest interval compared, or begins to end when nothing counts any more.
    """
    years = _grid(hazard)
    start = np.concatenate(([0.0], years[:-1]))
    lived = np.cumsum(_panels(hazard, start, years, discount), axis=1)
    if not (lived[:, 0] > 0).all():
        wanted = "one that ends neither within a second nor after thousands of millions of years"
        raise InputError("life", wanted, f"intervals compared from {years[0]:g} years")
    wear, survives = hazard(years), 1.0 - new_part_fault
    per_draw = np.where(wear[:, -1] > 0, 1.0 / (survives * lived[:, -1]) - discount, 0.0)
    rates = _rates(wear, lived, years, survives, discount)
    return CostCurve(years, rates, float(per_draw.mean()), hazard, survives, discount, lived)


def _rates(wear: Array, lived: Array, years: Array, survives_fitting: float, discount: float) -> Rates:
    survival = survives_fitting * np.exp(-wear)
    running = survives_fitting * lived
    kept = np.exp(-discount * years) * survival
    failed = 1.0 - kept - discount * running
    return Rates(np.mean(kept / running, axis=0), np.mean(failed / running, axis=0), survival.mean(axis=0))


def _panels(hazard: PathHazard, start: Array, end: Array, discount: float) -> Array:
    """∫ e^(-δt)·exp(-Λ(t)) dt from each start to each end, shape (draws, n)."""
    half = (end - start) / 2.0
    times = (start + half)[:, None] + half[:, None] * _NODES
    alive = np.exp(-hazard(times.ravel()) - discount * times.ravel())
    alive = alive.reshape(len(alive), len(start), len(_NODES))
    return np.asarray((alive @ _WEIGHTS) * half)


def _grid(hazard: PathHazard) -> Array:
    coarse = hazard(_COARSE)
    with np.errstate(over="ignore"):  # a sharp law's hazard far beyond its life: worn, however much
        unworn = np.flatnonzero(coarse.mean(axis=0) <= _UNWORN)
    worn = np.flatnonzero(coarse.min(axis=0) >= _WORN_OUT)
    low = _COARSE[unworn[-1]] if len(unworn) else _COARSE[0]
    high = _COARSE[worn[0]] if len(worn) else _COARSE[-1]
    if high <= low:
        low = high / 10.0
    panels = int(np.ceil(np.log(high / low) / np.log(_PANEL_RATIO)))
    return np.asarray(np.geomspace(low, high, panels + 1))
