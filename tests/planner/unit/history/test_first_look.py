"""Parts found at their limit when a car just bought is looked over: no failure of those few days."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from planner import fit_life
from planner.history import episodes
from planner.history.conversion import spells_from
from planner.history.records import Vehicle
from tests.planner.unit.history.test_conversion import BOTH, BOUGHT, TODAY, fitted, history, look, rows


@pytest.mark.parametrize("day", ["2010-01-01", "2010-01-20"])
def test_found_worn_when_a_car_just_bought_is_looked_over_is_no_failure_of_those_days(day):
    found = history(fitted(), look(day, "worn to limit"), vehicle=BOUGHT)
    out = history(fitted(), removal={"removed_on": day, "reason": "looked worn"}, vehicle=BOUGHT)
    for one in (found, out):
        result = spells_from([one], BOTH, TODAY)
        assert (result.spells, len(result.left_out)) == (None, 1)
        assert result.left_out[0].reason == episodes.AT_FIRST_LOOK


def test_found_worn_at_a_later_look_is_counted_since_the_car_came():
    found = history(fitted(), look("2011-01-01", "worn to limit"), vehicle=BOUGHT)
    assert [row[3:6] for row in rows(found)] == [(8.0, 8.0, 9.0)]


def test_found_worn_soon_after_a_good_look_is_counted_between_the_looks():
    looks = look("2010-01-10"), look("2010-02-10", "worn to limit")
    ((_, _, _, entry, lower, upper, _),) = rows(history(fitted(), *looks, vehicle=BOUGHT))
    assert (entry, lower, upper) == (8.0, 8.02, 8.11)


def looked_over():
    """Four hundred used cars, each looked over ten days after it came, then yearly for four years; truth Weibull(2.5, 12)."""
    random = np.random.default_rng(7)
    lives, ages = 12 * random.weibull(2.5, 400), random.uniform(0.5, 12, 400)
    cars = []
    for life, age in zip(lives, ages, strict=True):
        first = date.fromordinal(date(2016, 1, 1).toordinal() - round(365.25 * age))
        gone = date.fromordinal(first.toordinal() + round(365.25 * life))
        days = [date(2016, 1, 11), *(date(year, 1, 11) for year in range(2017, 2021))]
        seen = [(day, "worn to limit" if day >= gone else "good") for day in days]
        stop = next((i for i, (_, finding) in enumerate(seen) if finding != "good"), len(seen) - 1)
        looks = [look(str(day), finding) for day, finding in seen[: stop + 1]]
        vehicle = Vehicle(ref="v", name="used", joined_on="2016-01-01")
        cars.append(history(fitted(str(first)), *looks, vehicle=vehicle, track=None))
    return cars, int((lives < ages + 10 / 365.25).sum())


def test_looking_over_used_cars_does_not_shorten_the_life_that_is_fitted(monkeypatch):
    cars, bad_at_once = looked_over()
    spells = spells_from(cars, ("age",), TODAY).spells
    law = fit_life(spells).age
    assert law.scale == pytest.approx(12, rel=0.12)
    assert law.shape == pytest.approx(2.5, rel=0.3)
    assert len(spells) == 400 - bad_at_once
    monkeypatch.setattr(episodes, "FIRST_LOOK_DAYS", -1)  # as failures of those ten days they shorten it
    counted = fit_life(spells_from(cars, ("age",), TODAY).spells).age
    assert counted.scale < 0.82 * law.scale


def test_what_gave_no_row_is_told_apart():
    sold_before = history(
        fitted(), removal={"removed_on": "2008-01-01", "reason": "preventive"}, vehicle=BOUGHT
    )
    worn = history(fitted(), look("2010-01-20", "worn to limit"), vehicle=BOUGHT)
    reasons = [one.reason for one in spells_from([sold_before, worn], BOTH, TODAY).left_out]
    assert reasons == [episodes.BEFORE_RECORDS, episodes.AT_FIRST_LOOK]
