"""Cars that eat parts: a gamma frailty per car, fitted together with the life, and the multiplier that a car has earned.

Each car multiplies every hazard of the kind by its own Z, gamma with shape k and mean 1 among *new* parts. A part seen only from a
late entry had to survive to it, so its Λ counts from new, and the likelihood is divided by the chance of getting there. That holds
where a car is seen only because its parts lived so long; parts that took the place of ones that died unseen are not covered: give
their cars from the first fitting that the records know. A life fitted without frailty must not be multiplied by Z: it has averaged
over the cars already.

References:
    Vaupel, Manton & Stallard 1979, Demography 16:439-454 (gamma frailty). Hougaard 2000, Analysis of Multivariate Survival Data, ch. 7.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import FitNotConverged, InputError, SpellError
from planner.history.spells import Spells
from planner.life.draws import draw_around
from planner.life.fit import fit_life
from planner.life.maximise import maximise
from planner.life.model import ClockLife, Evidence, Life
from planner.life.problem import pose
from planner.life.row_parts import (
    Parts,
    RowLogs,
    hazard_parts,
    hazard_values,
    log_rate_parts,
    log_rate_values,
    logs_of,
)
from planner.life.terms import ExactRows, IntervalRows, Points, Terms

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from planner.history.spells import Clock, FloatArray
    from planner.life.likelihood import Derivatives
    from planner.life.prior import LifePrior
    from planner.life.row_parts import IntArray

SHAPES = np.exp(np.linspace(math.log(0.5), math.log(200.0), 13))
"""Values of k tried: from cars that differ wildly (0.5) to cars that are all but alike (200)."""

_LOG_SHAPE_PRIOR = (math.log(6.0), 1.0)
"""Normal law of ln k (judgement): a standard deviation between cars of 0.4, give or take a factor of 1.6."""

_CELLS = 1_000_000


@dataclass(frozen=True, eq=False)
class FrailRows:
    """Exact failures and parts still good, by car, at a given k: rows that add to a fit."""

    clocks: tuple[Clock, ...]
    histories: float
    shape: float
    logs: RowLogs
    starts: IntArray
    failures: FloatArray

    def failed(self, theta: FloatArray) -> float:  # noqa: ARG002 - every failure here is certain
        """See :class:`planner.life.joined_rows.JoinedRows`."""
        return float(self.failures.sum())

    def add_to(self, out: Derivatives, theta: FloatArray) -> None:
        """See :class:`planner.life.joined_rows.JoinedRows`."""
        rate = log_rate_parts(self.logs, theta)
        exact = self.logs.exact
        _add(out, Parts(rate.value[exact], rate.gradient[:, exact], rate.hessian[:, :, exact]))
        _add(out, self._log_of(hazard_parts(self.logs.lower, theta), -(self.shape + self.failures)))
        _add(out, self._log_of(hazard_parts(self.logs.entry, theta), np.full(len(self.starts), self.shape)))
        out.value += self._constant()

    def log_likelihood(self, thetas: FloatArray) -> FloatArray:
        """See :class:`planner.life.joined_rows.JoinedRows`."""
        step = max(1, _CELLS // len(self.logs.exact))
        parts = [self._some(thetas[i : i + step]) for i in range(0, len(thetas), step)]
        return np.concatenate(parts or [np.zeros(0)])

    def _some(self, thetas: FloatArray) -> FloatArray:
        ends = np.add.reduceat(hazard_values(self.logs.lower, thetas), self.starts, axis=1)
        entries = np.add.reduceat(hazard_values(self.logs.entry, thetas), self.starts, axis=1)
        value = np.log(self.shape + entries).sum(axis=1) * self.shape
        value -= np.log(self.shape + ends) @ (self.shape + self.failures)
        if self.logs.exact.any():
            value += log_rate_values(self.logs, thetas)[:, self.logs.exact].sum(axis=1)
        found: FloatArray = value + self._constant()
        return found

    def _log_of(self, hazards: Parts, factor: FloatArray) -> Parts:
        """The factor times ln(k + ΣΛ) per car."""
        total = self.shape + np.add.reduceat(hazards.value, self.starts)
        gradient = np.add.reduceat(hazards.gradient, self.starts, axis=-1) / total
        hessian = np.add.reduceat(hazards.hessian, self.starts, axis=-1) / total
        hessian = hessian - gradient[:, None, :] * gradient[None, :, :]
        return Parts(np.log(total), gradient, hessian).times(factor)

    def _constant(self) -> float:
        return sum(math.lgamma(self.shape + d) for d in self.failures) - len(self.failures) * math.lgamma(
            self.shape
        )


@dataclass(frozen=True, eq=False)
class FrailFit:
    """A life at Z = 1 and how much cars differ.

    Attributes:
        life: of a part on a car with Z = 1, at the likeliest k.
        shapes: values of k tried, (n,).
        mass: posterior probability of each, (n,).
    """

    life: Life
    shapes: FloatArray
    mass: FloatArray

    @property
    def shape(self) -> float:
        """The likeliest k of those tried."""
        return float(self.shapes[np.argmax(self.mass)])

    @property
    def spread(self) -> float:
        """Standard deviation of Z between cars, averaged over k."""
        return float(self.mass @ (1 / np.sqrt(self.shapes)))


@dataclass(frozen=True)
class Multiplier:
    """How much faster a car eats parts of a kind than the common car.

    Attributes:
        mean: posterior mean of Z.
        low: its 10 % point.
        high: its 90 % point.
        failures: how many the car had.
        expected: ΣΛ of its parts up to when each was last seen, counted from new, at Z = 1.
    """

    mean: float
    low: float
    high: float
    failures: float
    expected: float

    @property
    def words(self) -> str:
        """As "x1.6, from 3 failures where 1.4 were expected"."""
        failures = f"{self.failures:.3g} failure" + ("" if self.failures == 1 else "s")
        return f"×{self.mean:.1f}, from {failures} where {self.expected:.1f} were expected"


def car_multiplier(spells: Spells, life: Life, shape: float) -> Multiplier:
    """The multiplier of one car: gamma with k + d over k + ΣΛ(end), Λ counted from new, mixed over the life's draws.

    Args:
        spells: the car's parts of a kind, exact failures and parts still good.
        life: at Z = 1, from :func:`fit_with_cars`.
        shape: k.

    Raises:
        SpellError: interval rows, which are not conjugate, or fractional weights.
        InputError: a shape not above 0, or a life on other clocks.
    """
    from scipy.special import gammainc  # noqa: PLC0415 - loaded only when needed

    if not 0 < shape < math.inf:
        raise InputError("shape", "a finite number above 0", shape)
    if life.clocks != spells.clocks:
        raise InputError("life", f"clocks {' and '.join(spells.clocks)}, as the spells have", life.clocks)
    _check_plain(spells)
    failures = float(spells.exact.sum())
    spent = hazard_values(logs_of(spells).lower, np.vstack([life.parameters, life.draws])).sum(axis=1)
    count, rate = shape + failures, shape + spent[1:]
    grid = np.exp(np.linspace(math.log(1e-3), math.log(1e3), 2001))
    below = gammainc(count, grid[:, None] * rate).mean(axis=1)
    low, high = (float(np.exp(np.interp(p, below, np.log(grid)))) for p in (0.1, 0.9))
    return Multiplier(float((count / rate).mean()), low, high, failures, float(spent[0]))


def fit_with_cars(
    spells: Spells, car: ArrayLike, prior: LifePrior, *, seed: int = 0, draws: int = 400
) -> FrailFit:
    """Fit a life at Z = 1 together with how much cars differ.

    Args:
        spells: exact failures and parts still good, weight 1.
        car: which car each row is of, (n,).
        prior: of the life of a part on a car with Z = 1.
        seed: of the random numbers behind the draws.
        draws: how many to keep.

    Raises:
        SpellError: interval rows or weights other than 1 (not conjugate), or a car missing for a row.
        FitNotConverged: the optimiser stopped short.
    """
    _check_plain(spells)
    cars = np.asarray(car)
    if cars.shape != (len(spells),):
        raise SpellError("car", f"one car for each of {len(spells)} rows", car)
    begin = fit_life(spells, prior, draws=1).parameters
    fits = [_at_shape(spells, cars, prior, float(k), begin, seed=seed, draws=draws) for k in SHAPES]
    logs = np.array([marginal for _, marginal in fits])
    logs -= 0.5 * ((np.log(SHAPES) - _LOG_SHAPE_PRIOR[0]) / _LOG_SHAPE_PRIOR[1]) ** 2
    mass = np.exp(logs - np.logaddexp.reduce(logs))
    return FrailFit(fits[int(np.argmax(mass))][0], SHAPES, mass)


def _at_shape(
    spells: Spells,
    cars: FloatArray,
    prior: LifePrior,
    shape: float,
    begin: FloatArray,
    *,
    seed: int,
    draws: int,
) -> tuple[Life, float]:
    """The life at one k, and the log marginal likelihood of k (Laplace)."""
    rows = _frail_rows(spells, cars, shape)
    problem = pose(replace(_no_terms(spells.clocks), joined=(rows,)), prior, None)
    peak = maximise(problem.at, begin, problem.free)
    failures = rows.failed(begin)
    if peak is None or peak.scaled_gradient(1 + failures) >= 1e-6 or not peak.peaked:
        raise FitNotConverged(f"the life could not be fitted with a spread between cars of {shape**-0.5:.2f}")
    covariance = _inverse(peak.information * problem.unit)
    drawn = draw_around(problem.log_density, peak.theta, covariance, count=draws, seed=seed)
    values = np.exp(peak.theta)
    laws = {c: ClockLife(float(values[2 * i]), float(values[2 * i + 1])) for i, c in enumerate(spells.clocks)}
    share = float((np.diag(covariance) * problem.precision).mean())
    life = Life(
        laws.get("distance"),
        laws.get("age"),
        log_likelihood=float(rows.log_likelihood(peak.theta[None, :])[0]),
        covariance=covariance,
        draws=drawn.values,
        evidence=Evidence(rows.histories, failures, min(1.0, share)),
        diagnostics=drawn.diagnostics,
        prior=prior,
    )
    return life, peak.value * problem.unit + 0.5 * float(np.linalg.slogdet(covariance)[1])


def _inverse(information: FloatArray) -> FloatArray:
    size = np.sqrt(np.diag(information))
    found: FloatArray = np.linalg.inv(information / np.outer(size, size)) / np.outer(size, size)
    return 0.5 * (found + found.T)


def _frail_rows(spells: Spells, cars: FloatArray, shape: float) -> FrailRows:
    order = np.argsort(cars, kind="stable")
    ordered, at = cars[order], spells.take(order)
    starts = np.flatnonzero(np.append(True, ordered[1:] != ordered[:-1]))
    failures = np.add.reduceat(at.exact.astype(np.float64), starts)
    return FrailRows(spells.clocks, float(len(spells)), shape, logs_of(at), starts, failures)


def _no_terms(clocks: tuple[Clock, ...]) -> Terms:
    none, size = np.zeros(0), len(clocks)
    table = np.zeros((0, size))
    return Terms(
        clocks,
        np.zeros(size),
        tuple(Points(none, none) for _ in clocks),
        ExactRows(table, none, none),
        IntervalRows(table, table, none),
        0.0,
        0.0,
    )


def _check_plain(spells: Spells) -> None:
    if not isinstance(spells, Spells) or spells.interval.any():
        raise SpellError("spells", "exact failures and parts still good: intervals are not conjugate", spells)
    if (spells.weight != 1).any():
        raise SpellError("spells", "rows of weight 1: fractions are not conjugate", spells.weight)


def _add(out: Derivatives, parts: Parts) -> None:
    out.value += float(parts.value.sum())
    out.gradient += parts.gradient.sum(axis=-1)
    out.hessian += parts.hessian.sum(axis=-1)
