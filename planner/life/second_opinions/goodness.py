"""Whether a life fits its records, in numbers: failures counted against failures expected all along the parts' wear.

On the scale of a part's own cumulative hazard (Cox and Snell's residuals) every life is a unit exponential one, on one clock or two, so
failures less hazard spent is 0 on average up to every point. The largest departure is judged by simulation: each row's share in the
process takes a random sign and size, less what the fit of the parameters takes out of it. That needs no law of how parts leave the
records; a failure between two looks counts at every point with the chance that it had come by then.

References:
    [1] Cox & Snell 1968, JRSS B 30:248-275 (residuals).
    [2] Lin & Spiekerman 1996, Scand. J. Statistics 23:157-177 (model checks for parametric lives by simulated martingales; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import InputError, SpellError
from planner.history.spells import Spells
from planner.life.checks import count, seed_number
from planner.life.hazard import cumulative_hazard, hazard_per_year
from planner.life.model import Life

if TYPE_CHECKING:
    from planner.history.spells import BoolArray, FloatArray

TELLING = 0.05
"""p below which the words say that records and life do not go together (common practice, no source)."""

_POINTS = 80
_CHUNK = 20_000
_STEP = 1e-5


@dataclass(frozen=True)
class Goodness:
    """How far records stand off a life.

    Attributes:
        observed: sum of the weights of failed parts.
        expected: failures that the life expected of all parts over the time they were watched.
        z: (observed - expected)/√expected; above 0: more failed than expected. Near 0 by construction for a life fitted to these records.
        departure: the largest difference of failures by a point from those expected by then, as observed less expected.
        wear: cumulative hazard at that point.
        reading: the same point in km or years on a life of one clock, None on two.
        unit: "km" or "years", None on two clocks.
        p: chance of a departure as large if the life were right, from `simulations` simulations, never below 1/(1 + simulations).
        simulations: how many.
    """

    observed: float
    expected: float
    z: float
    departure: float
    wear: float
    reading: float | None
    unit: str | None
    p: float
    simulations: int

    @property
    def words(self) -> str:
        """What it means."""
        if self.p >= TELLING:
            return f"nothing in the records speaks against the life ({self.observed:.3g} failed, p = {self.p:.2f})"
        side = "more" if self.departure > 0 else "fewer"
        if self.reading is None:
            place = f"the wear at which {-np.expm1(-self.wear):.0%} of new parts would have failed"
        else:
            place = f"{self.reading:,.3g} years" if self.unit == "years" else f"{self.reading:,.0f} km"
        return (
            f"the records bend away from the life at about {place}: {abs(self.departure):.3g} {side} failures by then than expected "
            f"(p = {self.p:.3f})"
        )


@dataclass(frozen=True, eq=False)
class _Rows:
    """Rows on the scale of cumulative hazard."""

    entry: FloatArray
    lower: FloatArray
    upper: FloatArray
    between: BoolArray
    failed: BoolArray

    def departures(self, at: FloatArray) -> FloatArray:
        """Each row's failures less hazard spent by every point, as expected from what is known of it: (n, points)."""
        entry, lower = self.entry[:, None], self.lower[:, None]
        found = -np.clip(np.minimum(at, lower) - entry, 0.0, None)
        found += (self.failed & ~self.between)[:, None] & (at >= lower)
        gap = np.where(self.between, self.upper - self.lower, 1.0)[:, None]
        ahead = np.clip(np.minimum(at - lower, gap), 0.0, None) * self.between[:, None]
        with np.errstate(over="ignore"):
            return found + ahead / np.expm1(np.maximum(gap, 1e-300))


def goodness_of_fit(
    life: Life, spells: Spells, *, own: bool = True, simulations: int = 400, seed: int = 0
) -> Goodness:
    """Hold a life against records, those that it was fitted to or others.

    Args:
        life: on one or two clocks, fitted or known.
        spells: on the same clocks, row by row.
        own: whether the life was fitted to these very spells: then the fit has taken out what it could of the departure, less the
            pull of a prior; otherwise the parameters' own uncertainty adds to it.
        simulations: behind the p value.
        seed: of their random numbers.

    Raises:
        SpellError: no spells, or none on the life's clocks.
        InputError: another argument makes no sense.
    """
    if not isinstance(life, Life):
        raise InputError("life", "a Life", life)
    if not isinstance(spells, Spells) or spells.clocks != life.clocks:
        raise SpellError("spells", f"Spells on {' and '.join(life.clocks)}, as the life", spells)
    count("simulations", simulations)
    seed_number(seed)
    rows = _rows(spells, life.parameters)
    ends = np.where(rows.between, rows.upper, rows.lower)
    points = np.unique(np.quantile(ends, np.linspace(0, 1, _POINTS), method="nearest"))
    process, simulated = _processes(
        rows, spells, life, points, simulations, np.random.default_rng(seed), own=own
    )
    sizes, worst = np.abs(simulated).max(axis=1), int(np.argmax(np.abs(process)))
    observed = float(spells.weight[~spells.censored].sum())
    expected = observed - float(process[-1])
    law = life.distance if life.age is None else life.age
    alone = law is not None and len(life.clocks) == 1
    return Goodness(
        observed,
        expected,
        float(process[-1] / np.sqrt(expected)) if expected > 0 else 0.0,
        float(process[worst]),
        float(points[worst]),
        float(law.scale * points[worst] ** (1 / law.shape)) if law is not None and alone else None,
        ("km" if life.age is None else "years") if alone else None,
        float((1 + (sizes >= abs(process[worst])).sum()) / (1 + simulations)),
        simulations,
    )


def _rows(spells: Spells, theta: FloatArray) -> _Rows:
    entry, lower, upper = (
        cumulative_hazard(theta, [getattr(bounds, side) for bounds in spells.bounds])
        for side in ("entry", "lower", "upper")
    )
    return _Rows(entry, lower, upper, spells.interval, ~spells.censored)


def _processes(
    rows: _Rows,
    spells: Spells,
    life: Life,
    points: FloatArray,
    simulations: int,
    random: np.random.Generator,
    *,
    own: bool,
) -> tuple[FloatArray, FloatArray]:
    """The departures by every point, (points,), and simulated ones, (simulations, points)."""
    score = _scores(spells, life.parameters)
    process, slope = np.zeros(len(points)), np.zeros((len(points), score.shape[1]))
    drawn, moved = np.zeros((simulations, len(points))), np.zeros((simulations, score.shape[1]))
    for start in range(0, len(spells), _CHUNK):
        part = slice(start, start + _CHUNK)
        sides = (getattr(rows, name)[part] for name in ("entry", "lower", "upper", "between", "failed"))
        each, weight = _Rows(*sides).departures(points), spells.weight[part]
        process += weight @ each
        slope += (weight[:, None] * each).T @ score[part]
        signs = random.standard_normal((simulations, len(weight))) * np.sqrt(weight)
        drawn += signs @ each
        moved += signs @ score[part]
    steps = random.standard_normal((simulations, score.shape[1]))
    if not own:
        return process, drawn + steps @ _root(life.covariance) @ slope.T
    pull = steps / life.prior.spread if life.prior is not None else 0.0
    return process, drawn - (moved - pull) @ life.covariance @ slope.T


def _root(covariance: FloatArray) -> FloatArray:
    """A matrix whose square is the covariance; of a known life all zeros."""
    spread, axes = np.linalg.eigh(covariance)
    root: FloatArray = (axes * np.sqrt(np.clip(spread, 0.0, None))) @ axes.T
    return root


def _scores(spells: Spells, theta: FloatArray) -> FloatArray:
    """Slope of each row's log-likelihood in every parameter, (n, parameters), by differences."""
    found = np.empty((len(spells), len(theta)))
    for i in range(len(theta)):
        step = np.zeros(len(theta))
        step[i] = _STEP
        found[:, i] = (_logs(spells, theta + step) - _logs(spells, theta - step)) / (2 * _STEP)
    return np.where(np.isfinite(found), found, 0.0)


def _logs(spells: Spells, theta: FloatArray) -> FloatArray:
    rows = _rows(spells, theta)
    one = np.ones(len(spells))
    rates = [one] if spells.km_per_year is None else [np.where(spells.exact, spells.km_per_year, one), one]
    at = [np.where(bounds.lower > 0, bounds.lower, 1e-9) for bounds in spells.bounds]
    with np.errstate(divide="ignore", invalid="ignore"):
        dense = np.log(hazard_per_year(theta, at, rates))
        gap = np.log(-np.expm1(-(rows.upper - rows.lower)))
    found = rows.entry - rows.lower
    found += np.where(spells.exact, dense, 0.0) + np.where(spells.interval, gap, 0.0)
    return found
