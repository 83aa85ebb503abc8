"""X km or Y years, whichever comes first: the two-limit model, and the best pair for a fleet."""

import itertools
import math

import numpy as np
import pytest

from planner.errors import UsageError
from planner.interval import Cap, Costs, best_interval
from planner.interval.kind_rule import best_kind_rule, lognormal_use, whichever_first
from planner.life.model import known_life

KM, YEARS = 100_000.0, 10.0


def split_at_the_corner(density, low, high):
    """Gauss-Legendre nodes with density weights, on either side of the yearly distance that meets both limits."""
    nodes, weights = np.polynomial.legendre.leggauss(64)
    rates, shares = [], []
    edges = np.unique(np.concatenate((np.linspace(low, KM / YEARS, 40), np.linspace(KM / YEARS, high, 160))))
    for a, b in itertools.pairwise(edges):
        rate = (a + b) / 2 + (b - a) / 2 * nodes
        rates.append(rate)
        shares.append((b - a) / 2 * weights * density(rate))
    return np.concatenate(rates), np.concatenate(shares)


def test_use_spread_evenly_from_4_to_20_thousand_km():
    # Blischke & Murthy 1994, ch. 8 (model); numbers derived by closed form and quadrature, here and below
    first, mean = whichever_first(KM, YEARS, *split_at_the_corner(np.ones_like, 4_000, 20_000))
    assert first == pytest.approx(0.625, rel=1e-12)
    assert mean == pytest.approx(8.08216988, rel=1e-8)


def test_gamma_use_of_shape_4_and_mean_12_thousand_km():
    rates, weights = split_at_the_corner(lambda r: (r / 3_000) ** 3 * np.exp(-r / 3_000), 0.0, 200_000)
    first, mean = whichever_first(KM, YEARS, rates, weights)
    assert first == pytest.approx(0.572985992, rel=1e-9)
    assert mean == pytest.approx(8.18987515, rel=1e-8)


def test_lognormal_use_of_median_10_thousand_km():
    def density(rate):
        return np.exp(-0.5 * (np.log(rate / 10_000) / 0.6) ** 2) / rate

    rates, weights = split_at_the_corner(density, 1.0, 1_000_000)
    assert whichever_first(KM, YEARS, rates, weights)[1] == pytest.approx(8.28340594, rel=1e-7)


def brute_force(life, costs, rates, weights):
    best = (math.inf, None, None)
    for km in np.geomspace(5_000, 400_000, 40):
        for years in np.geomspace(1, 40, 40):
            cost = 0.0
            for rate, weight in zip(rates, weights, strict=True):
                t = np.linspace(0, min(km / rate, years), 400)
                survival = np.exp(-life.cumulative_hazard(km=rate * t, years=t))
                cost += (
                    weight
                    * (costs.planned + (costs.failure - costs.planned) * (1 - survival[-1]))
                    / np.trapezoid(survival, t)
                )
            best = min(best, (cost, km, years))
    return best


def test_the_best_pair_agrees_with_trying_them_all():
    life, costs = known_life(distance=(3.0, 90_000), age=(2.5, 12.0)), Costs(60, 500)
    rates, weights = [1_000.0, 6_000.0, 20_000.0], [0.5, 0.3, 0.2]
    rule = best_kind_rule(life, costs, rates, weights)
    cost, km, years = brute_force(life, costs, rates, weights)
    assert rule.cost_per_year <= cost * 1.0005
    assert rule.cost_per_year == pytest.approx(cost, rel=0.003)
    assert rule.km == pytest.approx(km, rel=0.15)
    assert rule.years == pytest.approx(years, rel=0.15)
    assert rule.cost_if_each_had_its_own <= rule.cost_per_year <= rule.cost_run_to_failure
    own = sum(w * best_interval(life, costs, r).cost_per_year for r, w in zip(rates, weights, strict=True))
    assert rule.cost_if_each_had_its_own == pytest.approx(own, rel=0.003)


def test_one_clock_needs_one_limit():
    rates, weights = lognormal_use()
    assert math.isinf(best_kind_rule(known_life(age=(3.0, 10.0)), Costs(60, 500), rates, weights).km)
    by_km = best_kind_rule(known_life(distance=(3.0, 90_000)), Costs(60, 500), rates, weights)
    assert math.isinf(by_km.years)
    assert by_km.km == pytest.approx(
        best_interval(known_life(distance=(3.0, 90_000)), Costs(60, 500), 1_400).km, rel=0.02
    )


def test_a_cap_binds_every_car():
    rates, weights = lognormal_use()
    life = known_life(distance=(3.0, 90_000), age=(2.5, 12.0))
    rule = best_kind_rule(life, Costs(60, 500), rates, weights, cap=Cap(years=2))
    free = best_kind_rule(life, Costs(60, 500), rates, weights)
    assert rule.years <= 2
    assert rule.mean_years <= 2
    assert rule.cost_per_year > free.cost_per_year


def test_the_pair_itself_keeps_every_car_within_the_risk_limit():
    rates, weights = np.array([500.0, 3_000.0, 15_000.0]), [0.4, 0.4, 0.2]
    life = known_life(distance=(3.0, 90_000), age=(2.5, 12.0))
    rule = best_kind_rule(life, Costs(60, 90), rates, weights, max_risk=0.04)
    at = np.minimum(rule.km / rates, rule.years)
    assert np.all(1 - life.survival(km=rates * at, years=at) <= 0.04 + 1e-9)
    assert rule.cost_if_each_had_its_own <= rule.cost_per_year


@pytest.mark.parametrize(
    ("rates", "weights", "field"),
    [
        ([], [], "rates"),
        ([-1], [1], "rates"),
        ([math.nan], [1], "rates"),
        ([0], [1], "rates"),
        ([1, 2], [1], "weights"),
        ([1], [0], "weights"),
    ],
)
def test_a_malformed_fleet_is_refused(rates, weights, field):
    with pytest.raises(UsageError) as refused:
        best_kind_rule(known_life(age=(3, 10)), Costs(1, 5), rates, weights)
    assert refused.value.field == field


@pytest.mark.parametrize("discount", [0.0, 0.2])
def test_a_rule_for_cars_of_one_use_is_their_own_best_interval_at_the_same_discount(discount):
    life, costs = known_life(age=(3.0, 10.0)), Costs(50.0, 500.0)
    own = best_interval(life, costs, 5_000.0, discount=discount)
    rule = best_kind_rule(life, costs, [5_000.0], [1.0], discount=discount)
    assert rule.cost_per_year == pytest.approx(own.cost_per_year, rel=3e-3)
    assert rule.cost_run_to_failure == pytest.approx(own.cost_run_to_failure, rel=3e-3)
    low, high = own.within_5_percent  # the optimum is flat
    assert low < min(rule.years, rule.km / 5_000.0) < high
    other = best_interval(life, costs, 5_000.0, discount=0.2 - discount)
    assert rule.cost_per_year != pytest.approx(other.cost_per_year, rel=0.02)
