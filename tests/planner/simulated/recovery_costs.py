"""What an interval truly costs, and the interval that a set of draws asks for, by sums on a fixed grid of years.

This is a second route beside ``planner.interval``: trapezoids on a fine log grid, and the decision rules written anew
(renew only if that saves 2 % of running to failure and at least 5 % of the parts get so far).
"""

from __future__ import annotations

import math

import numpy as np

PLANNED, FAILURE = 1.0, 6.0
_GRID = np.geomspace(0.02, 200.0, 700)
_COARSE = np.geomspace(0.02, 200.0, 280)


def hazards(thetas: np.ndarray, km_per_year: float, years: np.ndarray) -> np.ndarray:
    """Cumulative hazard (m, n) of parameters (m, 4) along a straight path."""
    log_t = np.log(years)
    total = np.zeros((len(thetas), len(years)))
    for clock, log_rate in ((0, math.log(km_per_year)), (1, 0.0)):
        y = np.exp(thetas[:, 2 * clock, None]) * (log_t + log_rate - thetas[:, 2 * clock + 1, None])
        total += np.exp(np.minimum(y, 50.0))
    return total


def costs_on(thetas: np.ndarray, km_per_year: float, years: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Cost per year (m, n) of renewing at each of the years, and survival to there (m, n)."""
    alive = np.exp(-hazards(thetas, km_per_year, years))
    steps = 0.5 * (alive[:, 1:] + alive[:, :-1]) * np.diff(years)
    lived = np.concatenate([np.zeros((len(thetas), 1)), np.cumsum(steps, axis=1)], axis=1) + years[0]
    return (PLANNED * alive + FAILURE * (1 - alive)) / lived, alive


class TrueCost:
    """The cost per year of any interval under known parameters."""

    def __init__(self, truth: np.ndarray, km_per_year: float) -> None:
        cost, _ = costs_on(truth[None, :], km_per_year, _GRID)
        self.cost = cost[0]
        self.run = float(self.cost[-1])
        self.best = min(self.run, _lowest(np.log(_GRID), self.cost)[1])

    def beyond_best(self, years: float) -> float:
        """How much more, as a share, an interval costs than the best one; infinite years are running to failure."""
        if not math.isfinite(years):
            return self.run / self.best - 1
        return float(np.interp(math.log(years), np.log(_GRID), self.cost)) / self.best - 1


def asked_for(draws: np.ndarray, km_per_year: float) -> float:
    """Years of the interval of least mean cost over draws (m, 4), infinite for running to failure."""
    cost, alive = costs_on(draws, km_per_year, _COARSE)
    mean = cost.mean(axis=0)
    log_years, least = _lowest(np.log(_COARSE), mean)
    reached = float(np.interp(log_years, np.log(_COARSE), alive.mean(axis=0)))
    if 1 - least / float(mean[-1]) < 0.02 or reached < 0.05:
        return math.inf
    return math.exp(log_years)


def _lowest(at: np.ndarray, values: np.ndarray) -> tuple[float, float]:
    """Place and height of the lowest point of a curve on an even grid, by a parabola through three points."""
    k = min(max(int(np.argmin(values)), 1), len(values) - 2)
    before, here, after = values[k - 1 : k + 2]
    bend = before - 2 * here + after
    shift = 0.0 if bend <= 0 else min(max(0.5 * (before - after) / bend, -1.0), 1.0)
    step = float(at[1] - at[0])
    return float(at[k]) + shift * step, float(here - 0.25 * (before - after) * shift)
