"""Published fits of parts that failed between two looks."""

from __future__ import annotations

import numpy as np
import pytest

from planner import Spells, fit_life
from tests.planner.published import published_lives as data


def between(rows):
    lower, upper, count = rows.T
    return Spells.on_age(lower, upper, weight=count)


def test_turbine_cracks_in_days():
    # Nelson 1982 p. 415; fit printed in the R survival package's test r_sas: mu 7.6880, log sigma -0.3953, logLik
    # -309.6, standard errors .0744 and .0987.
    life = fit_life(between(data.TURBINE))
    assert np.log(life.age.scale) == pytest.approx(7.6880, abs=6e-5)
    assert -np.log(life.age.shape) == pytest.approx(-0.3953, abs=6e-5)
    assert life.log_likelihood == pytest.approx(-309.6, abs=0.05)
    assert np.sqrt(np.diag(life.covariance)) == pytest.approx([0.0987, 0.0744], abs=1e-4)
    assert life.evidence.failures == 94


def test_turbine_cracks_in_months():
    # SAS/QC example, weakly remembered: scale 71.69, shape 1.4854.
    life = fit_life(between(data.TURBINE_MONTHS))
    assert life.age.scale == pytest.approx(71.69, abs=0.005)
    assert life.age.shape == pytest.approx(1.4854, abs=1e-4)


def test_turbine_cracks_b10_and_its_standard_error():
    # The same R test prints B10 = 479.31737 and, in its SE column, the square root of the standard error (8.227489).
    life = fit_life(between(data.TURBINE))
    b10 = life.life_at(0.10).years
    assert b10 == pytest.approx(479.31737, abs=0.01)
    slope = np.array([-np.log(-np.log(0.9)) / life.age.shape, 1.0])
    error = b10 * np.sqrt(slope @ life.covariance @ slope)
    assert error == pytest.approx(8.227489**2, abs=0.05)


def test_heat_exchanger():
    # Meeker & Escobar 1998, Table 1.2; Weibull fit agreed by two independent routes.
    life = fit_life(between(data.HEAT_EXCHANGER))
    assert life.age.scale == pytest.approx(23.6199242, rel=1e-5)
    assert life.age.shape == pytest.approx(1.34551503, rel=1e-5)
    assert life.log_likelihood == pytest.approx(-54.4147053, rel=1e-7)


def test_taking_the_find_for_the_failure_gives_another_answer():
    lower, upper, count = data.TURBINE.T
    found = np.where(np.isinf(upper), lower, upper)
    wrong = fit_life(Spells.on_age(found, np.where(np.isinf(upper), np.inf, found), weight=count))
    right = fit_life(between(data.TURBINE))
    assert wrong.age.shape > 1.1 * right.age.shape
