"""Delay-time inspection against its published model and closed forms."""

import math

import numpy as np
import pytest

from planner.errors import CostError
from planner.interval import Costs
from planner.interval.inspection import Delay, best_downtime, best_inspection, breakdown_share, onset


@pytest.mark.parametrize(("interval", "share"), [(5, 0.159083105), (10, 0.285358323), (20, 0.467755726)])
def test_share_of_defects_that_break_down(interval, share):
    # Christer & Waller 1984 (formula from memory): b(T) = 1 - (1 - exp(-T/m))/(T/m), m = 14 days
    assert breakdown_share(Delay(14.0), interval) == pytest.approx(share, rel=1e-8)
    nearly = breakdown_share(Delay(14.0, shape=1.0 + 1e-9), interval)  # the same by quadrature
    assert nearly == pytest.approx(share, rel=1e-7)


def test_the_best_interval_of_christer_and_waller():
    # defects 0.1 a day, mean delay 14 days, check 0.05 day, breakdown 0.5 day; numbers derived twice
    interval, down = best_downtime(0.1, Delay(14.0), 0.05, 0.5)
    assert interval == pytest.approx(6.04025297, rel=1e-5)
    assert down == pytest.approx(0.0175215635, abs=5e-11)  # half of the last digit given


def closed_form(interval, rate, delay_rate, costs, check, sensitivity=1.0):
    """Exponential onset, exponential delay, checks every `interval`: expected cost over expected cycle."""
    # onset anywhere in a check interval, memoryless: phase density rate·exp(-rate·x)/(1 - exp(-rate·T)) on (0, T)
    at_first = rate * (math.exp(-rate * interval) - math.exp(-delay_rate * interval))
    at_first /= (delay_rate - rate) * (
        1 - math.exp(-rate * interval)
    )  # chance alive at the first check after onset
    stays = math.exp(-delay_rate * interval) * (1 - sensitivity)
    checks_after = at_first / (1 - stays)
    found = sensitivity * checks_after
    checks_before = 1 / math.expm1(rate * interval)
    # cycle length: onset, then delay cut short by detection; the part lost is the mean delay after detection
    length = 1 / rate + (1 - found) / delay_rate
    cost = costs.planned * found + costs.failure * (1 - found) + check * (checks_before + checks_after)
    return cost / length, found


@pytest.mark.parametrize("sensitivity", [1.0, 0.6])
def test_one_part_with_exponential_onset_and_delay_has_a_closed_form(sensitivity):
    costs, check, rate, delay = Costs(50, 900), 4.0, 1 / 8.0, 1.5
    rule = best_inspection(lambda t: (rate * t)[None, :], costs, check, Delay(delay), sensitivity)
    grid = np.geomspace(0.02, 10, 4_000)
    exact = np.array([closed_form(t, rate, 1 / delay, costs, check, sensitivity)[0] for t in grid])
    assert rule.years == pytest.approx(grid[exact.argmin()], rel=5e-3)
    assert rule.cost_per_year == pytest.approx(exact.min(), rel=1e-4)
    assert rule.found_in_time == pytest.approx(
        closed_form(rule.years, rate, 1 / delay, costs, check, sensitivity)[1], rel=1e-3
    )
    assert rule.cost_unchecked == pytest.approx(900 / (8 + 1.5), rel=1e-6)


def test_a_weibull_part_agrees_with_simulation():
    rng = np.random.default_rng(3)
    costs, check, sensitivity = Costs(60, 700), 5.0, 0.7
    delay = Delay(1.2, shape=2.0)
    rule = best_inspection(lambda t: ((t / 9.0) ** 2.5)[None, :], costs, check, delay, sensitivity)
    n = 400_000
    seen = 9.0 * rng.weibull(2.5, n)
    fails = seen + 1.2 / math.gamma(1.5) * rng.weibull(2.0, n)
    looks = np.floor(seen / rule.years) + rng.geometric(sensitivity, n)  # number of the check that finds it
    found = looks * rule.years < fails
    checks = np.where(found, looks, np.floor(fails / rule.years))
    cost = np.where(found, 60, 700) + 5.0 * checks
    length = np.where(found, looks * rule.years, fails)
    assert rule.cost_per_year == pytest.approx(cost.sum() / length.sum(), rel=0.01)
    assert rule.found_in_time == pytest.approx(found.mean(), abs=0.004)


def test_a_poorer_check_costs_more_and_a_dear_one_does_not_pay():
    hazard = onset(lambda t: ((t / 9.0) ** 2.5)[None, :])
    good, poor = (best_inspection(hazard, Costs(60, 700), 5.0, Delay(0.8), q) for q in (0.95, 0.4))
    assert good.cost_per_year < poor.cost_per_year < poor.cost_unchecked
    dear = best_inspection(hazard, Costs(60, 100), 90.0, Delay(0.8))
    assert (dear.years, dear.cost_per_year) == (math.inf, dear.cost_unchecked)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"sensitivity": 0}, "sensitivity"),
        ({"sensitivity": 1.1}, "sensitivity"),
        ({"check_cost": 0}, "check_cost"),
    ],
)
def test_bad_input_names_the_field(change, field):
    arguments = {"check_cost": 5.0, "delay": Delay(1.0), **change}
    with pytest.raises(CostError) as refused:
        best_inspection(lambda t: t[None, :], Costs(1, 5), **arguments)
    assert refused.value.field == field
    with pytest.raises(CostError):
        Delay(-1.0)
    with pytest.raises(CostError):
        onset(lambda t: t[None, :], 1.0)
