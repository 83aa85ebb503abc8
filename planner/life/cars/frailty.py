"""Cars that eat parts: a gamma frailty per car, fitted together with the life, so that how much cars differ is itself estimated.

Each car multiplies every hazard of the kind by its own Z, gamma with shape k and mean 1 among *new* parts. A part seen only from a
late entry had to survive to it, so its Λ counts from new, and the likelihood is divided by the chance of getting there. That holds
where a car is seen only because its parts lived so long. Where a car would be in the records anyway, nothing is divided
(``selected=False``), and a part known to have died before the records begin is a row bad at the first look: left out, it would make
the bad cars look sound. A life fitted without frailty must not be multiplied by Z: it has averaged over the cars already.

References:
    Vaupel, Manton & Stallard 1979, Demography 16:439-454 (gamma frailty). Hougaard 2000, Analysis of Multivariate Survival Data, ch. 7.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import FitNotConverged, PriorError, SpellError
from planner.history.spells import Spells
from planner.life.cars.car_share import Multiplier, car_multiplier, life_on_car
from planner.life.cars.frail_rows import frail_rows
from planner.life.checks import count, labels, seed_number, weights_add_up
from planner.life.fit import fit_life
from planner.life.maximise import inverse, maximise
from planner.life.model import ClockLife, Evidence, Life
from planner.life.prior import LifePrior, share_left
from planner.life.problem import pose
from planner.life.sampling.draws import draw_around
from planner.life.terms import ExactRows, IntervalRows, Points, Terms

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from planner.history.spells import Clock, FloatArray
    from planner.life.cars.frail_rows import FrailRows
    from planner.life.maximise import Stationary
    from planner.life.problem import Problem
    from planner.life.row_parts import IntArray

__all__ = ["SHAPES", "FrailFit", "Multiplier", "car_multiplier", "fit_with_cars", "life_on_car"]

SHAPES = np.exp(np.linspace(math.log(0.5), math.log(200.0), 13))
"""Values of k tried: from cars that differ wildly (0.5) to cars that are all but alike (200)."""

_LOG_SHAPE_PRIOR = (math.log(6.0), 1.0)
"""Normal law of ln k (judgement): a standard deviation between cars of 0.4, give or take a factor of 1.6."""


@dataclass(frozen=True, eq=False)
class FrailFit:
    """A life at Z = 1 and how much cars differ.

    Attributes:
        life: of a part on a car with Z = 1, at the likeliest k; its draws are averaged over k.
        shapes: values of k tried, (n,).
        mass: posterior probability of each, (n,).
        draw_shapes: the k that each of the life's draws goes with, (draws,).
    """

    life: Life
    shapes: FloatArray
    mass: FloatArray
    draw_shapes: FloatArray

    @property
    def shape(self) -> float:
        """The likeliest k of those tried."""
        return float(self.shapes[np.argmax(self.mass)])

    @property
    def spread(self) -> float:
        """Standard deviation of Z between cars, averaged over k."""
        return float(self.mass @ (1 / np.sqrt(self.shapes)))

    def multiplier(self, spells: Spells) -> Multiplier:
        """What one car has earned, averaged over k and the life; see :func:`car_multiplier`."""
        return car_multiplier(spells, self.life, self.draw_shapes)

    def life_on(self, spells: Spells | None, *, seed: int = 0) -> Life:
        """The life on one car, or with None on a car not seen yet; see :func:`life_on_car`."""
        return life_on_car(spells, self.life, self.draw_shapes, seed=seed)


@dataclass(frozen=True, eq=False)
class _AtShape:
    """The fit at one k: where it peaks, its covariance and the log marginal likelihood of k (Laplace)."""

    rows: FrailRows
    problem: Problem
    peak: Stationary
    covariance: FloatArray
    log_marginal: float


def fit_with_cars(
    spells: Spells,
    car: ArrayLike,
    prior: LifePrior,
    *,
    seed: int = 0,
    draws: int = 400,
    selected: bool = True,
) -> FrailFit:
    """Fit a life at Z = 1 together with how much cars differ.

    Rows between two looks are averaged over Z by quadrature; weights are powers, as in :func:`planner.life.fit.fit_life`.

    Args:
        spells: of one kind, on any cars.
        car: which car each row is of, (n,).
        prior: of the life of a part on a car with Z = 1.
        seed: of the random numbers behind the draws.
        draws: how many to keep.
        selected: whether cars are in the records only because their parts lived to their entry; False where they would be there anyway.

    Raises:
        SpellError: no spells, or a car missing for a row.
        PriorError: no prior.
        InputError: fewer than one draw.
        FitNotConverged: the optimiser stopped short.
    """
    if not isinstance(spells, Spells):
        raise SpellError("spells", "Spells, row by row", spells)
    if not isinstance(prior, LifePrior):
        raise PriorError("prior", "a LifePrior: how cars differ is not told without one", prior)
    count("draws", draws)
    seed_number(seed)
    weights_add_up(float(spells.weight.sum()))
    cars = _numbered(car, len(spells))
    begin = fit_life(spells, prior, draws=1).parameters
    fits: list[_AtShape] = []
    for k in SHAPES:
        rows = frail_rows(spells, cars, float(k), selected=selected)
        fits.append(_at_shape(rows, prior, begin))
        begin = fits[-1].peak.theta
    logs = np.array([fit.log_marginal for fit in fits])
    logs -= 0.5 * ((np.log(SHAPES) - _LOG_SHAPE_PRIOR[0]) / _LOG_SHAPE_PRIOR[1]) ** 2
    mass = np.exp(logs - np.logaddexp.reduce(logs))
    life, which = _averaged_life(fits, mass, prior, seed=seed, draws=draws)
    return FrailFit(life, SHAPES, mass, SHAPES[which])


def _numbered(car: ArrayLike, rows: int) -> IntArray:
    """The number of each row's car, whatever names the cars."""
    names = labels("car", car, rows, "car")
    order = {name: number for number, name in enumerate(dict.fromkeys(names))}
    return np.array([order[name] for name in names], dtype=np.int64)


def _at_shape(rows: FrailRows, prior: LifePrior, begin: FloatArray) -> _AtShape:
    problem = pose(replace(_no_terms(rows.clocks), joined=(rows,)), prior, None)
    peak = maximise(problem.at, begin, problem.free)
    if peak is None or peak.scaled_gradient(1 + rows.failed(begin)) >= 1e-6 or not peak.peaked:
        raise FitNotConverged(
            f"the life could not be fitted with a spread between cars of {rows.shape**-0.5:.2f}"
        )
    covariance = inverse(peak.information * problem.unit)
    log_marginal = peak.value * problem.unit + 0.5 * float(np.linalg.slogdet(covariance)[1])
    return _AtShape(rows, problem, peak, covariance, log_marginal)


def _averaged_life(
    fits: list[_AtShape], mass: FloatArray, prior: LifePrior, *, seed: int, draws: int
) -> tuple[Life, IntArray]:
    """The life at the likeliest k, with draws over all k, and which k each draw goes with.

    Draws are made at the likeliest k and carried to the mode and the covariance of each other one.
    """
    best = fits[int(np.argmax(mass))]
    drawn = draw_around(best.problem.log_density, best.peak.theta, best.covariance, count=draws, seed=seed)
    which = np.searchsorted(np.cumsum(mass), (np.arange(draws) + 0.5) / draws)
    which = np.random.default_rng(seed).permutation(np.minimum(which, len(mass) - 1))
    roots = np.stack([np.linalg.cholesky(fit.covariance) for fit in fits])
    modes = np.stack([fit.peak.theta for fit in fits])
    plain = np.linalg.solve(np.linalg.cholesky(best.covariance), (drawn.values - best.peak.theta).T).T
    values = modes[which] + np.einsum("nij,nj->ni", roots[which], plain)
    law = np.exp(best.peak.theta)
    laws = {c: ClockLife(float(law[2 * i]), float(law[2 * i + 1])) for i, c in enumerate(best.rows.clocks)}
    share = share_left(np.diag(best.covariance), prior.spread**2)
    life = Life(
        laws.get("distance"),
        laws.get("age"),
        log_likelihood=float(best.rows.log_likelihood(best.peak.theta[None, :])[0]),
        covariance=best.covariance,
        draws=values,
        evidence=Evidence(best.rows.histories, best.rows.failed(best.peak.theta), share),
        diagnostics=drawn.diagnostics,
        prior=prior,
    )
    return life, which


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
