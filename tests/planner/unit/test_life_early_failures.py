"""Early failures apart from wear: counted as good so far for a life of sound parts, and the wrong way lengthens nothing."""

from __future__ import annotations

import numpy as np
import pytest

from planner.errors import SpellError
from planner.history.spells import Spells
from planner.life.early_failures import early, early_as_censored, failed_at_once, span_of
from planner.life.fit import fit_life
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
