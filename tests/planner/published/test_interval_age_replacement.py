"""Age replacement against published and independently derived optima."""

import math

import numpy as np
import pytest

from planner.interval import Costs, best_interval
from planner.interval.cost_rate import cost_curve
from planner.interval.search import cheapest, mean_cost
from planner.life.model import known_life


def optimum(hazard, costs):
    """(interval, cost rate, cost of running to failure) of any survival function, given as cumulative hazard."""
    curve = cost_curve(lambda t: hazard(t)[None, :])
    years = cheapest(curve, costs)
    cost = float(mean_cost(curve, costs, np.array([years]))[0]) if math.isfinite(years) else math.inf
    return years, cost, costs.failure * curve.failures_if_run


def test_weibull_1000_and_shape_2_5_with_costs_1_and_5():
    # Source: documentation "Optimal replacement time" and test_Repairable_systems.py of the Python package
    # `reliability` (seen): T* = 493.19, cost 0.0035 (tests: 493.1851185 and 0.00346204292). That package takes the
    # best of 10,000 grid points 0.29993 apart, so its T* is the grid point nearest to the true optimum; the
    # stationarity root and a quadrature minimiser both give 493.046958. The cost agrees, the curve being flat.
    rule = best_interval(known_life(age=(2.5, 1000.0)), Costs(planned=1, failure=5), plug_in=True)
    assert rule.years == pytest.approx(493.046958, rel=2e-5)
    assert rule.years != pytest.approx(493.19, abs=0.005)
    assert rule.cost_per_year == pytest.approx(0.0034620429, abs=2e-9)
    assert rule.bound_by == "cost"


# Source: derived from Barlow & Proschan 1965, ch. 4, by a stationarity root and by quadrature, which agree to the
# digits given. Columns: shape, failure cost over planned cost, T*/eta, cost rate x eta / planned cost.
TABLE = [
    (1.5, 2, 2.17464138, 2.2119998), (1.5, 5, 0.675491992, 4.93129919),
    (1.5, 10, 0.378144492, 8.30161632), (1.5, 20, 0.226119875, 13.5523381),
    (2, 2, 1.09079697, 2.18159394), (2, 5, 0.510655224, 4.08524179),
    (2, 10, 0.336451191, 6.05612144), (2, 20, 0.230426798, 8.75621833),
    (2.5, 2, 0.883601677, 2.07646591), (2.5, 5, 0.493046958, 3.46204274),
    (2.5, 10, 0.35457441, 4.7505468), (2.5, 20, 0.262381626, 6.38401263),
    (3, 2, 0.810342027, 1.9699626), (3, 5, 0.502609582, 3.0313967),
    (3, 10, 0.382455531, 3.9493503), (3, 20, 0.297770471, 5.05403343),
    (4, 2, 0.766113237, 1.79861782), (4, 5, 0.53840212, 2.49712491),
    (4, 10, 0.439097187, 3.04778596), (4, 20, 0.364100812, 3.66841564),
    (5, 2, 0.760976408, 1.67669773), (5, 5, 0.574945628, 2.18543101),
    (5, 10, 0.488585128, 2.5643275), (5, 20, 0.420661194, 2.97477009),
]  # fmt: skip


@pytest.mark.parametrize(("shape", "ratio", "interval", "cost"), TABLE)
def test_table_of_weibull_optima(shape, ratio, interval, cost):
    found, at_best, run = optimum(lambda t: t**shape, Costs(planned=1, failure=ratio))
    assert found == pytest.approx(interval, rel=2e-5)
    assert at_best == pytest.approx(cost, rel=1e-8)
    assert run == pytest.approx(ratio / math.gamma(1 + 1 / shape), rel=1e-9)


@pytest.mark.parametrize(("shape", "ratio", "interval", "cost"), TABLE)
def test_the_same_table_as_advice_on_either_clock(shape, ratio, interval, cost):
    # 9 years of scale by age; or 90,000 km of scale at 10,000 km a year
    costs = Costs(planned=10, failure=10 * ratio)
    by_age = best_interval(known_life(age=(shape, 9.0)), costs, plug_in=True)
    by_km = best_interval(known_life(distance=(shape, 90_000.0)), costs, km_per_year=10_000, plug_in=True)
    run = 10 * ratio / math.gamma(1 + 1 / shape) / 9
    saves_too_little = 1 - (cost * 10 / 9) / run < 0.02 or math.exp(-(interval**shape)) < 0.05
    assert by_age.run_to_failure == by_km.run_to_failure == saves_too_little
    assert by_age.cost_run_to_failure == pytest.approx(run, rel=1e-9)
    if saves_too_little:
        assert (by_age.years, by_km.km) == (math.inf, math.inf)
        return
    assert by_age.years == pytest.approx(9 * interval, rel=2e-5)
    assert by_km.km == pytest.approx(90_000 * interval, rel=2e-5)
    assert by_age.cost_per_year == pytest.approx(cost * 10 / 9, rel=1e-8)
    assert by_km.cost_per_year == pytest.approx(cost * 10 / 9, rel=1e-8)


def test_only_shape_1_5_at_ratio_2_is_not_worth_while():
    # its optimum saves 0.16 % of running to failure, and 4 % of parts would reach it
    runs = [
        (shape, ratio)
        for shape, ratio, _, _ in TABLE
        if best_interval(
            known_life(age=(shape, 1.0)), Costs(planned=1, failure=ratio), plug_in=True
        ).run_to_failure
    ]
    assert runs == [(1.5, 2)]


@pytest.mark.parametrize(("ratio", "interval"), [(2, 0.732050808), (5, 0.5), (10, 0.373210994)])
def test_uniform_life_has_a_closed_form(ratio, interval):
    # Barlow & Proschan 1965, ch. 4: T* = sqrt(r^2 + 2r) - r with r = cp/(cf - cp), life uniform on [0, 1]
    def hazard(t):
        return -np.log1p(-np.minimum(t, 1.0 - 1e-16))

    found, _, run = optimum(hazard, Costs(planned=1, failure=ratio))
    assert found == pytest.approx(interval, rel=2e-5)
    # the mean life 1/2; only to 1e-3, since this survival has a kink at 1 inside a quadrature panel
    assert run == pytest.approx(2 * ratio, rel=1e-3)


@pytest.mark.parametrize(
    ("week", "cost"), [(1, 5.00019408), (2, 2.50385317), (4, 1.47912762), (5, 1.63005997), (6, 1.87254718)]
)
def test_normal_life_of_five_weeks(week, cost):
    # Setting of Jardine & Tsang, Maintenance, Replacement and Reliability, ch. 2 (from memory): life N(5, 1) weeks,
    # planned 5, failure 10; the figures themselves are derived (closed form and quadrature).
    from scipy.stats import norm

    curve = cost_curve(lambda t: -norm.logsf(t, 5, 1)[None, :])
    costs = Costs(planned=5, failure=10)
    assert float(mean_cost(curve, costs, np.array([float(week)]))[0]) == pytest.approx(cost, abs=0.006)
    by_week = mean_cost(curve, costs, np.arange(1.0, 9.0))
    assert int(np.argmin(by_week)) + 1 == 4


def test_exponential_life_never_gains_from_renewing():
    # Barlow & Proschan 1965: no finite optimum without a rising hazard; the excess at T = 1 over the limit is
    # cp·exp(-1)/(1 - exp(-1)) = 0.581976707 for cp = 1 (derived twice)
    curve = cost_curve(lambda t: t[None, :])
    costs = Costs(planned=1, failure=5)
    assert float(mean_cost(curve, costs, np.array([1.0]))[0]) - 5 == pytest.approx(0.581976707, rel=1e-9)
    rule = best_interval(known_life(age=(1.0, 1.0)), costs, plug_in=True)
    assert rule.run_to_failure
    assert rule.bound_by == "run to failure"
    assert rule.cost_per_year == rule.cost_run_to_failure == pytest.approx(5, rel=1e-9)


def test_lognormal_life_has_a_finite_optimum_only_where_it_is_sharp():
    # derived: stationarity root and quadrature for sigma 0.5; for sigma 1 the least cost is within 1.2 % of running
    # to failure, so it is not worth while
    from scipy.stats import norm

    costs = Costs(planned=1, failure=5)
    years, cost, run = optimum(lambda t: -norm.logsf(np.log(t) / 0.5), costs)
    assert years == pytest.approx(0.503801267, rel=1e-5)
    assert cost == pytest.approx(2.70490219, rel=1e-8)
    assert run == pytest.approx(4.41248451, rel=1e-8)
    _, blunt, run_blunt = optimum(lambda t: -norm.logsf(np.log(t)), costs)
    assert min(blunt, run_blunt) / run_blunt == pytest.approx(1, abs=0.012)


def test_a_closed_form_not_in_any_table_shape_2_from_the_stationarity_condition():
    # Weibull shape 2, scale 1: with c = cp/(cf - cp), T* solves 2T·(sqrt(pi)/2)·erf(T) + exp(-T^2) - 1 = c
    # (Barlow & Proschan 1965, ch. 4, condition h(T)·∫S - F = c); here solved by bisection on its own
    planned, failure = 37.0, 412.0

    def condition(t):
        return math.sqrt(math.pi) * t * math.erf(t) + math.exp(-t * t) - 1 - planned / (failure - planned)

    low, high = 0.01, 3.0
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if condition(middle) < 0 else (low, middle)
    rule = best_interval(known_life(age=(2.0, 1.0)), Costs(planned=planned, failure=failure), plug_in=True)
    assert rule.years == pytest.approx(low, rel=2e-5)
    assert rule.cost_per_year == pytest.approx((failure - planned) * 2 * low, rel=1e-8)
