"""Renewal on fixed days and the renewal function against published values and closed forms."""

import math

import numpy as np
import pytest

from planner.interval.block import best_block, renewal_function
from planner.interval.costs import Costs


def test_renewal_function_of_the_erlang_and_uniform_lives():
    # closed forms (Barlow & Proschan 1965): Erlang-2 with rate 1, M(3) = 3/2 - 1/4 + exp(-6)/4; uniform on (0, 1),
    # M(t) = exp(t) - 1 for t <= 1
    _, erlang = renewal_function(lambda t: 1 - (1 + t) * np.exp(-t), 3.0)
    assert erlang[-1] == pytest.approx(1.250619688, abs=2e-6)
    _, uniform = renewal_function(lambda t: np.minimum(t, 1.0), 0.7)
    assert uniform[-1] == pytest.approx(1.013752707, abs=2e-6)


def test_renewal_function_of_the_exponential_is_its_rate():
    times, renewals = renewal_function(lambda t: -np.expm1(-t / 4), 20.0)
    assert renewals == pytest.approx(times / 4, abs=1e-5)


def test_periodic_renewal_with_minimal_repair_has_barlow_and_hunters_optimum():
    # Barlow & Hunter 1960: T* = alpha·(cp/(cf·(beta - 1)))^(1/beta). For alpha 1000, beta 2.5, cp 1, cf 5:
    # 446.658388 at 0.00373141244. The Python package `reliability` prints 1618.644582767 and 0.0051483404213951 for
    # these costs (seen); that is the optimum with the two costs swapped, which is why both are checked here.
    hazard = lambda t: ((t / 1000) ** 2.5)[None, :]  # noqa: E731 - one formula
    rule = best_block(hazard, Costs(planned=1, failure=5), "minimal repair")
    assert rule.years == pytest.approx(446.658388, rel=1e-6)
    assert rule.cost_per_year == pytest.approx(0.00373141244, rel=1e-8)
    # swapped: five for the fixed day, one for a repair. A repair cheaper than the fixed day is no failure cost, so
    # the product's Costs refuse it; the same optimum follows from scaling: T*(5, 1) = T*(1, 5)·25^(1/2.5)
    assert rule.years * 25 ** (1 / 2.5) == pytest.approx(1618.644583, abs=0.002)


@pytest.mark.parametrize(
    ("week", "cost"), [(1, 5.00031385), (2, 2.50674806), (3, 1.74249976), (4, 1.64664533), (5, 2.00013566)]
)
def test_block_renewal_of_a_normal_life(week, cost):
    # Setting of Jardine & Tsang, ch. 2 (from memory): life N(5, 1) weeks, planned 5, failure 10; figures derived by a
    # discrete recursion and a continuous renewal equation, which agree to 0.006
    from scipy.stats import norm

    times, renewals = renewal_function(lambda t: norm.cdf(t, 5, 1), 6.0)
    by_week = [(5 + 10 * np.interp(w, times, renewals)) / w for w in range(1, 7)]
    assert by_week[week - 1] == pytest.approx(cost, abs=0.006)
    assert int(np.argmin(by_week)) + 1 == 4


def test_block_renewal_costs_more_than_age_replacement_and_less_than_running_to_failure():
    # Barlow & Proschan 1965, ch. 4: age replacement is never dearer than block renewal
    from planner.interval import best_interval
    from planner.life.model import known_life

    costs = Costs(planned=10, failure=80)
    block = best_block(lambda t: ((t / 9.0) ** 3)[None, :], costs)
    age = best_interval(known_life(age=(3.0, 9.0)), costs)
    assert age.cost_per_year < block.cost_per_year < age.cost_run_to_failure


def test_block_renewal_of_a_life_that_does_not_wear_never_pays():
    rule = best_block(lambda t: (t / 5.0)[None, :], Costs(planned=10, failure=80))
    assert rule.years == math.inf
