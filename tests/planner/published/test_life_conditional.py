"""Conditional lives of used parts."""

from __future__ import annotations

import numpy as np
import pytest

from planner import Spells, fit_life
from tests.planner.published import published_lives as data


def fans():
    t, failed, count = data.FANS.T
    return fit_life(Spells.on_distance(t, np.where(failed == 1, t, np.inf), weight=count))


def test_five_per_cent_extra_risk_of_a_fan_aged_4000_hours():
    # t = scale·((t0/scale)^shape - ln(1-p))^(1/shape) = 5409.50318: closed form and root finding agree.
    assert fans().failure_within(km=4000, more_km=5409.50318 - 4000) == pytest.approx(0.05, abs=1e-8)


def test_mean_residual_life_at_4000_hours():
    # 25175.7845 by the incomplete gamma function and by quadrature.
    life = fans()
    ahead = np.linspace(0, 600000, 600001)
    good = 1 - life.failure_within(km=4000, more_km=ahead)
    assert np.trapezoid(good, ahead) == pytest.approx(25175.7845, rel=1e-6)


def test_tiny_chances_keep_their_digits():
    # One metre ahead: chance = hazard x distance to first order.
    life = fans()
    step = 1e-9
    hazard = life.hazard(km=4000, km_per_year=1.0)
    assert life.failure_within(km=4000, more_km=step) == pytest.approx(hazard * step, rel=1e-9)
