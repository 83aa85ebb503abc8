"""The rival to two clocks: one composite clock z = u/ηu + a/ηa with a Weibull law, fitted and compared, never chosen.

Under two causes km and years race each other; on a composite clock they add up: a part half worn by distance needs only half its years.
In the fit Λ = z^shape, so ηu is the scale in km of a car that never ages and ηa that in years of one that never moves.

References:
    [1] Kordonsky & Gertsbakh 1993, Microelectronics Reliability 33:1345-1353; 1997, Lifetime Data Analysis 3:99-116 (best time scale:
        the least coefficient of variation).
    [2] Oakes 1995, Lifetime Data Analysis 1:7-18; Duchesne & Lawless 2000, Lifetime Data Analysis 6:157-179 (collapsible scales).
    [3] Burnham & Anderson 2002, Model Selection and Multimodel Inference, section 2.6 (a difference in AIC of 4 or more tells).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import FitError, FitNotConverged, InputError, PriorError, SpellError, TooFewFailures
from planner.history.spells import Spells
from planner.life.checks import numbers
from planner.life.fit import ACCEPTED_GRADIENT, fit_life
from planner.life.groups.linked_lives import inverse
from planner.life.maximise import maximise
from planner.life.prior import LifePrior
from planner.life.second_opinions.composite_rows import CompositeRows

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from planner.history.spells import FloatArray
    from planner.life.likelihood import Derivatives

TELLING = 4.0
"""Least difference in AIC that tells the two models apart [3]."""

_LARGEST_SHAPE = 12.0
_MOST_STEPS = 300
_START_SHAPES = (1.0, 2.0, 4.0)
_START_SHARES = (0.2, 0.5, 0.8)


@dataclass(frozen=True, eq=False)
class CompositeLife:
    """A Weibull law on z = u/ηu + a/ηa.

    Attributes:
        shape: of the law.
        km: ηu.
        years: ηa.
        log_likelihood: at the estimate, prior left out, densities per year.
        covariance: of (ln shape, ln km, ln years), (3, 3).
    """

    shape: float
    km: float
    years: float
    log_likelihood: float
    covariance: FloatArray

    def cumulative_hazard(self, km: ArrayLike, years: ArrayLike) -> FloatArray:
        """Expected failures of a part from new to the given clocks; arrays broadcast.

        Raises:
            InputError: numbers below 0.
        """
        u, a = (np.asarray(v, dtype=np.float64) for v in (km, years))
        if not ((u >= 0).all() and (a >= 0).all()):
            raise InputError("km, years", "numbers of at least 0", (km, years))
        found: FloatArray = (u / self.km + a / self.years) ** self.shape
        return found

    def survival(self, km: ArrayLike, years: ArrayLike) -> FloatArray:
        """Chance that a new part is still good at the given clocks; arguments as cumulative_hazard."""
        found: FloatArray = np.exp(-self.cumulative_hazard(km, years))
        return found


@dataclass(frozen=True)
class ClockComparison:
    """Two causes against one composite clock on the same records.

    Attributes:
        two_causes: log-likelihood of two causes; None where they cannot be fitted.
        composite: log-likelihood of a composite clock; None likewise.
        aic_difference: AIC of two causes (four parameters) less that of the composite clock (three); above 0 speaks for the composite.
        tells: whether the difference is large enough to tell.
        km_per_year: km that wear as much as a year on the composite clock; None where it cannot be fitted.
    """

    two_causes: float | None
    composite: float | None
    aic_difference: float | None
    tells: bool
    km_per_year: float | None

    @property
    def words(self) -> str:
        """What it means for a keeper; the plan stands on two causes whatever it says."""
        if self.aic_difference is None or self.km_per_year is None:
            return "too little is recorded to say whether km and years race each other or add up"
        both = f"AIC {abs(self.aic_difference):.1f} apart, {TELLING:.0f} would tell"
        if not self.tells:
            return f"the records cannot tell whether km and years race each other or add up ({both})"
        if self.aic_difference > 0:
            return (
                f"km and years rather add up on one clock, {self.km_per_year:,.0f} km wearing as much as a year "
                f"(AIC {self.aic_difference:.1f} lower than for two causes; the plan still takes two)"
            )
        return f"km and years rather race each other (AIC {-self.aic_difference:.1f} lower than for one composite clock)"


def fit_composite(spells: Spells, prior: LifePrior | None = None) -> CompositeLife:
    """Fit a composite clock: maximum likelihood, or the posterior mode with a prior.

    Args:
        spells: on both clocks.
        prior: on both clocks: its scales are those of the composite clock, its shape has the mean of the two shapes' laws.

    Raises:
        SpellError: spells on one clock.
        PriorError: a prior that is not on both clocks.
        TooFewFailures: without a prior, no interior maximum with a shape of at most 12.
        FitNotConverged: with a prior, the optimiser stopped short.
    """
    if not isinstance(spells, Spells) or len(spells.clocks) != 2:
        raise SpellError("spells", "Spells on both clocks", spells)
    if prior is not None and (not isinstance(prior, LifePrior) or len(prior.clocks) != 2):
        raise PriorError("prior", "a LifePrior on both clocks, or None", prior)
    rows = CompositeRows.of(spells)
    if prior is None and not rows.failures:
        raise TooFewFailures("no failure: the records say only that parts last longer than they were watched")
    centre, precision = _prior_of(prior)
    unit = max(1.0, rows.failures)

    def objective(theta: FloatArray) -> Derivatives:
        out = rows.at(theta)
        off = theta - centre
        out.value = (out.value - 0.5 * float(precision @ off**2)) / unit
        out.gradient = (out.gradient - precision * off) / unit
        out.hessian = (out.hessian - np.diag(precision)) / unit
        return out

    peaks = [maximise(objective, start, steps=_MOST_STEPS) for start in _starts(rows, prior)]
    good = [p for p in peaks if p is not None and p.scaled_gradient(1.0) < ACCEPTED_GRADIENT and p.peaked]
    if prior is None:
        good = [p for p in good if p.theta[0] <= math.log(_LARGEST_SHAPE)]
    if not good:
        if prior is None:
            raise TooFewFailures("no interior maximum on a composite clock with a shape of at most 12")
        raise FitNotConverged("the optimiser stopped short of a peak on a composite clock")
    best = max(good, key=lambda p: p.value)
    shape, km, years = (float(v) for v in np.exp(best.theta))
    return CompositeLife(shape, km, years, rows.at(best.theta).value, inverse(best.information * unit))


def compare_clocks(spells: Spells, prior: LifePrior | None = None) -> ClockComparison:
    """Fit two causes and a composite clock to the same records and say whether these can tell them apart.

    The log-likelihoods are taken at the estimates, with a prior at the posterior modes, prior left out.

    Args:
        spells: on both clocks.
        prior: on both clocks, or None.

    Raises:
        SpellError: spells on one clock.
        PriorError: a prior that is not on both clocks.
    """
    composite: CompositeLife | None = None
    two: float | None = None
    try:
        composite = fit_composite(spells, prior)
        two = fit_life(spells, prior, draws=1).log_likelihood
    except FitError:
        pass
    if composite is None or two is None:
        found = None if composite is None else composite.log_likelihood
        return ClockComparison(two, found, None, tells=False, km_per_year=None)
    difference = 2 * (4 - two) - 2 * (3 - composite.log_likelihood)
    return ClockComparison(
        two,
        composite.log_likelihood,
        difference,
        tells=abs(difference) >= TELLING,
        km_per_year=composite.km / composite.years,
    )


@dataclass(frozen=True)
class BestScale:
    """The sum of km and years on which complete lives vary least [1].

    Attributes:
        years_per_km: weight of a km against that of a year.
        variation: coefficient of variation of the lives on it.
    """

    years_per_km: float
    variation: float


def best_scale(km: ArrayLike, years: ArrayLike) -> BestScale:
    """The composite scale of least coefficient of variation: weights S⁻¹·mean, variation 1/√(meanᵀS⁻¹mean) [1].

    Args:
        km: at failure of complete lives, (n,).
        years: at the same failures, (n,).

    Raises:
        InputError: fewer than three lives, numbers not above 0, or readings in strict proportion.
    """
    u, a = numbers("km", km), numbers("years", years)
    if u.shape != a.shape:
        raise InputError("km, years", "as many km as years", (u.shape, a.shape))
    lives = np.array([u, a])
    if lives.ndim != 2 or lives.shape[1] < 3 or not (np.isfinite(lives) & (lives > 0)).all():
        raise InputError("km, years", "at least three complete lives, above 0 on both clocks", (km, years))
    mean, spread = lives.mean(axis=1), np.cov(lives)
    if np.linalg.det(spread / np.outer(mean, mean)) < 1e-12:
        raise InputError("km, years", "lives at more than one yearly distance", (km, years))
    weights = np.linalg.solve(spread, mean)
    return BestScale(float(weights[0] / weights[1]), float(1 / math.sqrt(mean @ weights)))


def _prior_of(prior: LifePrior | None) -> tuple[FloatArray, FloatArray]:
    if prior is None:
        return np.zeros(3), np.zeros(3)
    mean, spread = prior.mean, prior.spread
    centre = np.array([(mean[0] + mean[2]) / 2, mean[1], mean[3]])
    return centre, np.array([math.hypot(spread[0], spread[2]) / math.sqrt(2), spread[1], spread[3]]) ** -2.0


def _starts(rows: CompositeRows, prior: LifePrior | None) -> list[FloatArray]:
    middle = rows.middle
    found = [
        np.array([math.log(shape), middle[0] - math.log(share), middle[1] - math.log(1 - share)])
        for shape in _START_SHAPES
        for share in _START_SHARES
    ]
    return found if prior is None else [*found, _prior_of(prior)[0]]
