"""A life times a multiplier known to within limits: hazards multiplied on average, and the doubt kept."""

from __future__ import annotations

import numpy as np
import pytest

from planner.errors import InputError
from planner.life.cars.times_life import life_times
from planner.life.model import known_life

PLAIN = known_life(distance=(2.0, 50_000.0), age=(1.5, 20.0))
MANY = np.repeat(PLAIN.draws, 2_000, axis=0)


def test_hazards_are_multiplied_at_the_estimate_and_on_average():
    from dataclasses import replace

    own = life_times(replace(PLAIN, draws=MANY), 1.6, 1.0, 2.3)
    plain = float(PLAIN.cumulative_hazard(km=20_000.0, years=5.0))
    assert float(own.cumulative_hazard(km=20_000.0, years=5.0)) == pytest.approx(1.6 * plain)
    drawn = own.cumulative_hazard_draws(km=20_000.0, years=5.0)
    assert drawn.mean() == pytest.approx(1.6 * plain, rel=0.005)
    low, high = np.quantile(drawn / plain, [0.1, 0.9])
    assert high / low == pytest.approx(2.3, rel=0.01)


def test_no_doubt_leaves_none():
    own = life_times(PLAIN, 1.3, 1.3, 1.3)
    assert float(own.cumulative_hazard_draws(km=1e4, years=2.0)[0]) == pytest.approx(
        1.3 * float(PLAIN.cumulative_hazard(km=1e4, years=2.0))
    )


@pytest.mark.parametrize(
    ("mean", "low", "high"),
    [(0.0, 1.0, 2.0), (1.0, 0.0, 2.0), (1.0, 2.0, 1.0), (1.0, 1.0, np.inf), (np.nan, 1.0, 2.0)],
)
def test_limits_that_make_no_sense_are_refused(mean, low, high):
    with pytest.raises(InputError):
        life_times(PLAIN, mean, low, high)
