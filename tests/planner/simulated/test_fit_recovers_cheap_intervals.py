"""Fitted to few records, the chosen interval costs little more than the best there is, and as little as anyone's could.

Targets of the extra cost per year: 3.9 % at 15 histories, 1.35 % at 60, 0.4 % at 300, 0.06 % at 3,000, and never more
than 1.1 times that of a long-run posterior on the same fleets; with a prior off by 1.5 both ways 5, 1.8 and 0.5 %.
"""

from __future__ import annotations

import math
from functools import partial

import numpy as np
import pytest

from planner import best_interval, fit_life
from tests.planner.simulated.recovery_costs import TrueCost, asked_for, costs_on
from tests.planner.simulated.recovery_reference import by_quadrature, long_sample
from tests.planner.simulated.recovery_runs import (
    COSTS,
    SHOWN,
    WAYS,
    chosen_years,
    extra_costs,
    mean_of,
    record,
    run,
)
from tests.planner.simulated.recovery_world import PRIOR, fleet

LARGEST = {15: 0.039, 60: 0.0135, 300: 0.004, 3000: 0.0006}
LARGEST_OFF = {15: 0.05, 60: 0.018, 300: 0.005}
FLEETS = {15: 5_000, 60: 5_000, 300: 20_000, 3000: 2_000}
"""At 300 histories 2,000 fleets tell the mean to a twentieth only, with a target as near: there are ten times as many."""
MORE_THAN_REFERENCE = 1.1
HELD = (0.88, 0.92)


def test_the_records_are_as_described():
    fleets = [fleet(number, 60) for number in range(200)]
    late = np.mean([(one.spells.years.entry > 0).mean() for one in fleets])
    censored = np.mean([one.spells.censored.mean() for one in fleets])
    assert late == pytest.approx(0.4, abs=0.02)
    assert censored == pytest.approx(0.7, abs=0.03)


def test_the_true_cost_is_that_of_renewal_theory():
    # Barlow & Proschan 1965, on one clock in closed form: shape 1 costs 6/scale per year whatever the interval.
    flat = np.array([0.0, math.log(1e9), 0.0, math.log(10.0)])
    cost, _ = costs_on(flat[None, :], 5_000.0, np.geomspace(0.02, 200.0, 700))
    assert cost[0, -1] == pytest.approx(0.6, rel=1e-3)
    worn = np.array([math.log(3.0), math.log(50_000.0), math.log(2.0), math.log(12.0)])
    true = TrueCost(worn, 5_000.0)
    assert true.beyond_best(4.0) >= 0
    assert true.beyond_best(0.5) > 0.5
    assert true.beyond_best(math.inf) > 0.2


@pytest.mark.parametrize("number", range(2))
def test_the_reference_is_right_by_a_second_route(number):
    # Sums over a grid of the four parameters have the moments of long importance samples, and ask for the same interval.
    one = fleet(number, 60)
    life = fit_life(one.spells, PRIOR)
    sampled, summed = long_sample(one.spells, life, number), by_quadrature(one.spells, number)
    spread = summed.std(axis=0)
    assert (np.abs(sampled.mean(axis=0) - summed.mean(axis=0)) < 0.1 * spread).all()
    assert sampled.std(axis=0) == pytest.approx(spread, rel=0.1)
    true = TrueCost(one.truth, one.km_per_year)
    costs = [true.beyond_best(asked_for(draws, one.km_per_year)) for draws in (sampled, summed)]
    assert costs[0] == pytest.approx(costs[1], abs=3e-3)


def test_the_interval_judged_is_the_one_that_is_advised():
    one = fleet(1, 60)
    life = fit_life(one.spells, PRIOR)
    advised = best_interval(life, COSTS, km_per_year=one.km_per_year)
    assert chosen_years(life, one.km_per_year) == advised.years


def test_in_a_short_run_fits_cost_a_fraction_of_what_rules_cost():
    ways = ("ours", "reference", "rule of thumb", "run to failure")
    rows = []
    for number in range(20):
        one = fleet(number, 60)
        rows.append(extra_costs(one, fit_life(one.spells, PRIOR, seed=number), number, ways))
    ours, reference, thumb, run_on = np.array(rows).T
    assert ours.min() >= -1e-6
    assert ours.mean() < 0.03  # a mean of 1.3 % with a standard error of 0.4 %
    assert ours.mean() < 1.25 * reference.mean() + 1e-3
    assert thumb.mean() > 5 * ours.mean()
    assert run_on.mean() > 20 * ours.mean()


@pytest.mark.full
@pytest.mark.timeout(14_400)
@pytest.mark.parametrize("histories", LARGEST)
def test_over_two_thousand_fleets_and_more_it_costs_as_little_as_anyones_could(histories):
    ways = WAYS if histories in LARGEST_OFF else tuple(way for way in WAYS if "prior" not in way)
    each = partial(record, histories=histories, ways=ways, costed=2_000, peers=400)
    found = run(each, FLEETS[histories], (*ways, *SHOWN), f"\n{histories} histories")
    extra, error = mean_of(found["ours"])
    asked = ~np.isnan(found["reference"])
    ours, best = (mean_of(found[way][asked])[0] for way in ("ours", "reference"))
    print(f"extra cost {100 * extra:.3f} % (se {100 * error:.3f}) over {FLEETS[histories]} fleets")
    print(f"over the first {asked.sum()}: {100 * ours:.3f} %, of the reference {100 * best:.3f} %")
    print({name: round(mean_of(found[name])[0], 4) for name in SHOWN})
    assert extra <= LARGEST[histories]
    assert ours <= MORE_THAN_REFERENCE * best
    for way in ("prior × 1.5", "prior / 1.5"):
        if way in ways:
            assert mean_of(found[way])[0] <= LARGEST_OFF[histories]
    for name in SHOWN if histories < 1_000 else ():
        assert HELD[0] <= mean_of(found[name])[0] <= HELD[1], name
