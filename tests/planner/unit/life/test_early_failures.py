"""Early failures apart from wear: counted as good so far for a life of sound parts, and the wrong way lengthens nothing."""

from __future__ import annotations

import numpy as np
import pytest

from planner.errors import SpellError
from planner.history.spells import Spells
from planner.life.fit import fit_life
from planner.life.model import known_life
from planner.life.new_parts.early_failures import early, early_as_censored, failed_at_once, span_of
from planner.life.new_parts.share import chances_of, new_part_fault
from planner.life.prior import ClockPrior, LifePrior

SPELLS = Spells.on_both(
    [500.0, 500.0, 40_000.0, 1_000.0],
    [500.0, 500.0, 40_000.0, np.inf],
    [0.1, 5.0, 8.0, 0.5],
    [0.1, 5.0, 8.0, np.inf],
    [0.0, 300.0, 0.0, 0.0],
    [0.0, 4.9, 0.0, 0.0],
    km_per_year=[5_000.0, 5_000.0, 5_000.0, np.nan],
)


def test_only_failures_from_new_within_the_span_are_early():
    assert early(SPELLS, span_of(SPELLS)).tolist() == [True, False, False, False]


def test_a_part_that_took_years_for_its_first_kilometres_was_not_bad_from_new():
    """1,500 km in six years on a car that hardly moves: by distance alone it would count as an early failure."""
    fast, slow = (
        Spells.on_both([1_500.0], [1_500.0], [0.3], [0.3]),
        Spells.on_both([1_500.0], [1_500.0], [6.0], [6.0]),
    )
    assert early(fast, 2_000.0).tolist() == [True]
    assert early(slow, 2_000.0).tolist() == [False]
    life = known_life(distance=(2.0, 60_000.0), age=(2.0, 10.0))
    assert chances_of(fast, life, 2_000.0)[0] == pytest.approx(
        5_000.0 / 2_000.0
    )  # per year, evenly over 2,000 km
    assert chances_of(slow, life, 2_000.0)[0] == 0.0
    assert new_part_fault(fast, life, span=2_000.0).mean > new_part_fault(slow, life, span=2_000.0).mean


def test_a_part_good_after_a_year_on_a_slow_car_has_shown_itself_sound():
    good = Spells.on_both([500.0], [np.inf], [1.2], [np.inf])
    assert chances_of(good, known_life(distance=(2.0, 60_000.0), age=(2.0, 10.0)), 2_000.0)[0] == 0.0


def test_they_count_as_good_so_far():
    sound = early_as_censored(SPELLS, 2_000.0)
    assert sound.censored.tolist() == [True, False, False, True]
    assert sound.km.lower[0] == 500.0
    assert np.isnan(sound.km_per_year[0])


def test_a_life_of_sound_parts_is_longer_than_one_that_takes_them_for_wear():
    prior = LifePrior(distance=ClockPrior(40_000, 90_000), age=ClockPrior(4, 12))
    wear, sound = fit_life(SPELLS, prior), fit_life(early_as_censored(SPELLS, 2_000.0), prior)
    assert sound.survival(km=10_000, years=2) > wear.survival(km=10_000, years=2) + 0.03


@pytest.mark.parametrize("clocks", [("distance",), ("age",), ("distance", "age")])
def test_parts_that_failed_at_once_are_early_on_any_clocks(clocks):
    row = failed_at_once(clocks, 2.5)
    assert row.clocks == clocks
    assert early(row, span_of(row)).all()
    assert row.weight.tolist() == [2.5]


def test_no_clock_is_refused():
    with pytest.raises(SpellError, match="clocks"):
        failed_at_once((), 1.0)
