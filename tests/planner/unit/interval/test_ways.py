"""Checking and the rule of thumb from a table are what the exact search finds, near enough for two figures."""

import math
import time

import numpy as np
import pytest

from planner.catalogue import load_catalogue
from planner.errors import CostError
from planner.interval import Costs, Delay, best_inspection, default_costs, onset
from planner.interval.cost_rate import cost_curve
from planner.interval.path import path_hazard
from planner.interval.policies import cost_at
from planner.interval.ways import RATES, Checking, Thumb, WaysTable, best_check, ways_table
from planner.life.fit import book_life
from planner.life.model import known_life
from planner.life.prior import book_prior

NO_THUMB = Thumb(None, None)


@pytest.mark.parametrize(("shape", "share", "finds", "cost"), [
    (2.5, 0.3, 0.9, 3.0), (2.5, 0.1, 0.5, 3.0), (4.0, 0.4, 0.95, 10.0), (1.5, 0.2, 0.7, 1.0),
])  # fmt: skip
def test_checking_agrees_with_the_exact_search(shape, share, finds, cost):
    hazard = onset(path_hazard(known_life(age=(shape, 10.0)), 0.0), share)
    costs, checking = Costs(40, 400), Checking(cost, share, finds)
    seen = cost_curve(hazard)
    years, per_year, found = best_check(seen, costs, checking)
    until_seen = float(seen.lived_until(seen.years[-1:])[0, 0])
    exact = best_inspection(hazard, costs, cost, Delay(share / (1 - share) * until_seen), finds)
    assert per_year == pytest.approx(exact.cost_per_year, rel=0.02)
    assert found == pytest.approx(exact.found_in_time, abs=0.06)
    assert years == pytest.approx(exact.years, rel=0.25), "the cost is flat around its best"


def test_checking_that_costs_as_much_as_a_failure_does_not_pay():
    seen = cost_curve(onset(path_hazard(known_life(age=(2.0, 10.0)), 0.0), 0.1))
    years, per_year, _ = best_check(seen, Costs(40, 50), Checking(40.0, 0.1, 0.5))
    assert math.isinf(years)
    assert per_year > 0


def test_the_rule_of_thumb_costs_what_it_costs():
    life, costs = known_life(distance=(2.5, 60_000), age=(2.5, 12)), Costs(40, 400)
    table = ways_table(life, costs, checking=None, thumb=Thumb(36_000, 6.0))
    for rate in (RATES[2], 3_000.0):
        exact = cost_at(cost_curve(path_hazard(life, float(rate))), costs, Thumb(36_000, 6.0).years_at(rate))
        assert table.at(rate)["thumb_cost"] == pytest.approx(exact, rel=0.03)
    assert math.isnan(table.at(3_000.0)["check_years"])


def test_a_table_is_kept_as_plain_data():
    kind = load_catalogue()["brake_pads"]
    life = book_life(book_prior(kind), draws=200)
    shows = kind.wear_shows
    table = ways_table(
        life, default_costs(kind), checking=Checking(20.0, shows.share, shows.finds), thumb=NO_THUMB
    )
    back = WaysTable.from_dict(table.to_dict())
    for rate in (100.0, 2_345.0, 90_000.0):
        assert np.array_equal(list(back.at(rate).values()), list(table.at(rate).values()), equal_nan=True)
    assert table.at(20_000.0)["check_years"] < table.at(1_000.0)["check_years"], (
        "driven more, looked at more often"
    )


def test_a_table_takes_less_than_a_second_of_work():
    kind = load_catalogue()["coolant_hose"]
    life = book_life(book_prior(kind), draws=400)
    began = time.process_time()
    ways_table(life, default_costs(kind), checking=Checking(10.0, 0.2, 0.6), thumb=Thumb(50_000, 8.0))
    assert time.process_time() - began < 1.5


@pytest.mark.parametrize(
    "checking", [Checking(0.0, 0.2, 0.6), Checking(10.0, 1.0, 0.6), Checking(math.nan, 0.2, 0.6)]
)
def test_checks_that_make_no_sense_are_refused(checking):
    with pytest.raises(CostError):
        ways_table(known_life(age=(2.0, 10.0)), Costs(40, 400), checking=checking, thumb=NO_THUMB)
