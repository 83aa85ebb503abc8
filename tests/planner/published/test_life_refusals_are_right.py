"""Without a prior, small two-clock fleets are fitted or refused for the reason that is true."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from planner import fit_life
from planner.errors import ClockNotIdentified, TooFewFailures
from planner.life.likelihood import derivatives
from planner.life.terms import terms_of
from tests.planner.published.test_life_two_clocks import simulated


def best_over_random_starts(spells, seed, starts=20):
    """Highest peak, with its shapes, that scipy finds from many random starts with shapes kept within (0.05, 12)."""
    terms = terms_of(spells)
    random = np.random.default_rng(seed)
    bounds = [(np.log(0.05), np.log(12)), (-8, 12)] * 2

    def minus(theta):
        here = derivatives(terms, theta)
        return (-here.value, -here.gradient) if here.finite else (1e10, np.zeros(4))

    found = []
    for _ in range(starts):
        start = np.array(
            [random.uniform(-1, 2), random.uniform(-1, 2), random.uniform(-1, 2), random.uniform(-1, 2)]
        )
        end = minimize(
            minus, start, jac=True, method="L-BFGS-B", bounds=bounds, options={"maxiter": 3000, "ftol": 1e-14}
        )
        found.append((-end.fun, end.x))
    return terms, sorted(found, key=lambda f: -f[0])


@pytest.mark.parametrize(
    "seed", [*range(12), *(pytest.param(s, marks=pytest.mark.full) for s in range(12, 200))]
)
def test_small_fleets_are_refused_for_the_reason_that_is_true(seed):
    # Whatever fit_life says of 15 parts is checked against many bounded searches from random starts.
    spells = simulated(15, 100 + seed)
    terms, found = best_over_random_starts(spells, seed)
    interior = [(v, x) for v, x in found if is_interior(terms, x)]
    try:
        life = fit_life(spells)
    except TooFewFailures:
        # No interior peak, and a shape of 12 gains what a clock's two parameters are worth over either clock alone.
        assert not interior
        assert np.exp(found[0][1][[0, 2]]).max() == pytest.approx(12, rel=1e-3)
        alone = [edge(terms, spells, kept) for kept in ("distance", "age")]
        assert found[0][0] - max(alone) >= 3 - 1e-6
    except ClockNotIdentified as refusal:
        # The other clock alone does as well as anything: better than any interior peak, or all but as well as a spike.
        alone = edge(terms, spells, {"distance": "age", "age": "distance"}[refusal.clock])
        assert found[0][0] - alone < 3 + 1e-6
        assert alone >= max((v for v, _ in interior), default=-np.inf) - 1e-6
    else:
        value = life.log_likelihood - terms.density_constant
        assert max(life.distance.shape, life.age.shape) <= 12
        assert value >= max((v for v, _ in interior), default=-np.inf) - 1e-6


def edge(terms, spells, kept):
    """Log-likelihood of one clock alone, in the two-clock terms' units; -inf where it has none with a shape to 12."""
    try:
        life = fit_life(spells.only(kept))
    except TooFewFailures:
        return -np.inf
    if life.parameters[0] > np.log(12):
        return -np.inf
    failed = spells.exact
    per_year = np.log(spells.km_per_year[failed]).sum() if kept == "distance" else 0.0
    return life.log_likelihood + per_year - terms.density_constant


def expected(terms, theta, clock):
    points = terms.points[clock]
    return -float(points.weight @ np.exp(np.exp(theta[2 * clock]) * (points.log_t - theta[2 * clock + 1])))


def is_interior(terms, theta):
    here = derivatives(terms, theta)
    curved = np.linalg.eigvalsh(-here.hessian)[0] > 1e-8
    return (
        curved
        and np.abs(here.gradient).max() < 1e-2
        and np.exp(theta[[0, 2]]).max() < 11.99
        and min(expected(terms, theta, 0), expected(terms, theta, 1)) > 0.02
    )
