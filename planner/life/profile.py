"""Likelihood-ratio limits: where the profile likelihood falls by half a chi-square with one degree of freedom.

With a prior the profile is of likelihood times prior. On two clocks without a prior it keeps to shapes of at most 12,
as the estimate does (Meeker, Escobar & Pascual 2022, chapter 8, for the method).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from planner.errors import InputError
from planner.life.life_point import check_level
from planner.life.life_profile import LifeProfile
from planner.life.maximise import maximise
from planner.life.problem import pose
from planner.life.two_clocks import LARGEST_SHAPE

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from planner.history.spells import FloatArray
    from planner.life.maximise import Objective
    from planner.life.model import Life
    from planner.life.problem import Problem

    Climb = Callable[[float, FloatArray], tuple[float, FloatArray]]

_FARTHEST = 60.0


def parameter_limits(life: Life, parameter: str, level: float) -> tuple[float, float]:
    """See :meth:`planner.life.model.Life.likelihood_ratio_limits`."""
    check_level(level)
    names = [f"{clock}.{part}" for clock in life.clocks for part in ("shape", "scale")]
    if not isinstance(parameter, str) or parameter not in names:
        raise InputError("parameter", f"one of {', '.join(names)}", parameter)
    problem = _problem(life)
    held = names.index(parameter)
    if problem.free[held] == 0:
        raise InputError("parameter", "one that was fitted", parameter)
    theta = life.parameters - problem.terms.shift
    bounded = _bounded(problem, (0, 2))

    def climb(value: float, start: FloatArray) -> tuple[float, FloatArray]:
        begin, free = start.copy(), problem.free.copy()
        begin[held], free[held] = value, 0.0
        return _climb(problem, problem.at, begin, free, [i for i in bounded if i != held])

    low, high = _limits(climb, float(theta[held]), theta, math.sqrt(life.covariance[held, held]), level)
    shift = float(problem.terms.shift[held])
    return _out(low + shift), _out(high + shift)


def life_limits(life: Life, fraction: float, km_per_year: float | None, level: float) -> tuple[float, float]:
    """Limits of the life at a fraction: in years, or in km where distance is the only clock."""
    problem = _problem(life)
    theta = life.parameters - problem.terms.shift
    view = LifeProfile(problem, math.log(-math.log1p(-fraction)), _log_rate(problem, km_per_year))
    centre, begin = view.from_parameters(theta)
    bounded = _bounded(problem, (0, 1))

    def climb(value: float, start: FloatArray) -> tuple[float, FloatArray]:
        return _climb(problem, view.at(value), start, view.free, bounded)

    low, high = _limits(climb, centre, begin, view.spread(theta, life.covariance), level)
    shift = float(problem.terms.log_unit[-1])
    return _out(low + shift), _out(high + shift)


def _problem(life: Life) -> Problem:
    if life.terms is None:
        raise InputError(
            "method", "a life fitted here: one that was stored or given no longer holds its data", life
        )
    shape = next(c.shape for c in (life.distance, life.age) if c is not None)
    return pose(life.terms, life.prior, shape if life.known_shape else None)


def _bounded(problem: Problem, shapes: tuple[int, int]) -> tuple[int, ...]:
    """Where the shapes stand that must keep to 12: on two clocks without a prior."""
    return shapes if len(problem.terms.clocks) == 2 and not problem.precision.any() else ()


def _log_rate(problem: Problem, km_per_year: float | None) -> float:
    if len(problem.terms.clocks) == 1:
        return 0.0
    if not km_per_year:
        raise InputError("km_per_year", "a rate above 0 for the likelihood ratio on two clocks", km_per_year)
    unit = problem.terms.log_unit
    return math.log(km_per_year) + float(unit[1] - unit[0])


def _out(log_limit: float) -> float:
    return math.inf if log_limit > 700 else math.exp(log_limit)


def _limits(
    climb: Climb, centre: float, begin: FloatArray, spread: float, level: float
) -> tuple[float, float]:
    from scipy.special import chdtri  # noqa: PLC0415 - loaded only when needed

    allowed = 0.5 * float(chdtri(1, 1 - level))
    top, begin = climb(centre, begin)
    step = max(1e-6, min(spread * math.sqrt(2 * allowed), 2.0))
    low, high = (_crossing(climb, centre, begin, top - allowed, sign * step) for sign in (-1, 1))
    return low, high


def _crossing(climb: Climb, centre: float, begin: FloatArray, target: float, step: float) -> float:
    """Where the profile falls to the target, walking from the centre; infinite where it never does."""
    from scipy.optimize import brentq  # noqa: PLC0415 - loaded only when needed

    inside, start, moved = centre, begin, step
    while True:
        outside = centre + moved
        value, reached = climb(outside, start)
        if value < target:
            break
        if abs(moved) > _FARTHEST:
            return math.copysign(math.inf, step)
        inside, start, moved = outside, reached, 1.7 * moved
    found: float = brentq(lambda v: climb(v, start)[0] - target, inside, outside, xtol=1e-10, rtol=1e-12)
    return found


def _climb(
    problem: Problem, objective: Objective, start: FloatArray, free: FloatArray, bounded: Sequence[int]
) -> tuple[float, FloatArray]:
    """Value, in full, and place of the maximum over the free coordinates, the bounded ones at most ln 12."""
    found = maximise(objective, start, free)
    over = [] if found is None else [i for i in bounded if found.theta[i] > math.log(LARGEST_SHAPE)]
    if over:
        begin, held = start.copy(), free.copy()
        begin[over], held[over] = math.log(LARGEST_SHAPE), 0.0
        found = maximise(objective, begin, held)
    if found is None:
        return -math.inf, start
    return found.value * problem.unit, found.theta
