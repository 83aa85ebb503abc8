"""Heat: Arrhenius, the ten-degree rule, and the motorettes' lives over temperatures."""

from __future__ import annotations

import numpy as np
import pytest

from planner.errors import InputError, TooFewFailures
from planner.life.modifiers.heat import (
    arrhenius_factor,
    energy_of_halving,
    equivalent_time,
    ten_degree_factor,
)
from planner.life.modifiers.heat_lives import fit_arrhenius

# Class-B motorettes (Hahn & Nelson 1974; SAS/STAT LIFEREG example) hours: (failed, end of test, still good).
MOTORETTES = {
    150: ([], 8064, 10),
    170: ([1764, 2772, 3444, 3542, 3780, 4860, 5196], 5448, 3),
    190: ([408, 408, 1344, 1344, 1440], 1680, 5),
    220: ([408, 408, 504, 504, 504], 528, 5),
}


def _columns(coldest):
    rows = [
        (t, failed, celsius)
        for celsius, (failures, end, good) in MOTORETTES.items()
        if celsius >= coldest
        for t, failed in [*((f, True) for f in failures), *([(end, False)] * good)]
    ]
    return tuple(np.array(column) for column in zip(*rows, strict=True))


@pytest.fixture(scope="module")
def fitted():
    """Without the group in which none failed, as the SAS example has it, with the example's own 0 °C."""
    return fit_arrhenius(*_columns(170), zero=273.2)


def test_motorettes_as_printed(fitted):
    # R survival tests/r_sas.Rout.save, after SAS/STAT LIFEREG.
    assert fitted.intercept == pytest.approx(-10.471, abs=6e-4)
    assert fitted.slope == pytest.approx(8.322, abs=6e-4)
    assert fitted.spread == pytest.approx(0.604, abs=6e-4)
    assert fitted.log_likelihood == pytest.approx(-145.9, abs=0.05)


@pytest.mark.parametrize(
    ("fraction", "celsius", "life"),
    [
        (0.1, 130, 12033.185),
        (0.5, 130, 26095.677),
        (0.9, 130, 56592.2),
        (0.1, 150, 4536.877),
        (0.5, 150, 9838.864),
        (0.9, 150, 21336.98),
    ],
)
def test_motorettes_extrapolated_lives(fitted, fraction, celsius, life):
    # The same print; its rows labelled .1, .2, .3 are really .1, .5, .9.
    assert fitted.life_at(fraction, celsius) == pytest.approx(life, rel=2e-4)


@pytest.mark.parametrize(
    ("fraction", "error", "low", "high"),
    [
        (0.1, 0.4556015, 5700.089, 25402.68),
        (0.5, 0.4353001, 12779.95, 53285.37),
        (0.9, 0.4600796, 26611.422, 120349.71),
    ],
)
def test_motorettes_limits(fitted, fraction, error, low, high):
    # The print's limits use 1.64: that is a level of 0.898995.
    assert fitted.log_error(fraction, 130) == pytest.approx(error, abs=2e-4)
    assert fitted.limits(fraction, 130, level=0.8989948) == pytest.approx((low, high), rel=5e-4)


def test_motorettes_energy_follows_from_the_slope(fitted):
    # E = k·1000·slope.
    assert fitted.energy_ev == pytest.approx(8.3220833 * 1000 * 8.617333262e-5, rel=1e-6)


def test_motorettes_with_the_group_in_which_none_failed():
    # Schmee & Hahn 1979, Technometrics 21:417-432 (from memory), in log10: slope and spread reproduce to all digits; the intercept
    # is remembered as -6.0195 and comes out as -6.0192 by likelihood, EM and R's survreg.
    whole = fit_arrhenius(*_columns(150), zero=273.2)
    assert whole.slope / np.log(10) == pytest.approx(4.3112, abs=6e-5)
    assert whole.spread / np.log(10) == pytest.approx(0.2592, abs=6e-5)
    assert whole.intercept / np.log(10) == pytest.approx(-6.0192496, abs=6e-5)
    assert whole.life_at(0.5, 130) == pytest.approx(47133.2729, rel=1e-4)
    index = whole.temperature_at(20000)
    assert index == pytest.approx(144.545187, rel=1e-5)
    assert whole.temperature_at(10000) - index == pytest.approx(12.5512226, rel=1e-4)
    assert whole.energy_ev == pytest.approx(0.855443825, rel=1e-5)


def test_weibull_over_temperatures_agrees_with_lifelines():
    import pandas as pd
    from lifelines import WeibullAFTFitter

    time, failed, celsius = _columns(170)
    own = fit_arrhenius(time, failed, celsius, law="Weibull")
    frame = pd.DataFrame({"t": time, "failed": failed, "x": 1000 / (celsius + 273.15) - 2.15})
    other = WeibullAFTFitter().fit(frame, "t", "failed")
    assert own.slope == pytest.approx(other.params_["lambda_", "x"], rel=1e-3)
    assert 1 / own.spread == pytest.approx(np.exp(other.params_["rho_", "Intercept"]), rel=1e-3)
    assert own.log_likelihood == pytest.approx(other.log_likelihood_, abs=1e-3)
    assert own.log_likelihood >= other.log_likelihood_ - 1e-9


@pytest.mark.parametrize(("celsius", "energy"), [(20, 0.53081822), (60, 0.682845058), (100, 0.853985754)])
def test_ten_degrees_mean_another_energy_at_each_temperature(celsius, energy):
    # k·ln 2·T1·T2/(T2 - T1): closed form (Montsinger 1930 for the rule).
    assert energy_of_halving(celsius) == pytest.approx(energy, rel=1e-8)
    assert arrhenius_factor(celsius + 10, celsius, energy_ev=energy) == pytest.approx(2, rel=1e-7)


def test_arrhenius_and_the_rule_diverge():
    # exp(0.85·11604.518·(1/333.15 - 1/363.15)) and 2^3, closed forms.
    assert arrhenius_factor(90, 60, energy_ev=0.85) == pytest.approx(11.5411091, rel=1e-8)
    assert ten_degree_factor(90, 60) == pytest.approx(8, rel=1e-12)


def test_equivalent_ageing_of_a_year():
    # 500 h at 90 °C and 8266 h at 25 °C, sum of rates.
    hours = equivalent_time([500, 8266], [90, 25], at=90, energy_ev=0.85)
    assert hours == pytest.approx(522.160542, rel=1e-8)


def test_one_temperature_says_nothing_of_the_slope():
    with pytest.raises(TooFewFailures):
        fit_arrhenius([100, 200, 300], [1, 1, 0], [150, 150, 170])


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: arrhenius_factor(-300, 20, energy_ev=0.8), "celsius"),
        (lambda: arrhenius_factor(20, float("nan"), energy_ev=0.8), "against"),
        (lambda: arrhenius_factor(20, 30, energy_ev=0), "energy_ev"),
        (lambda: ten_degree_factor(20, 30, halving=0), "halving"),
        (lambda: equivalent_time([1, 2], [20], at=20, energy_ev=1), "times"),
        (lambda: equivalent_time([-1], [20], at=20, energy_ev=1), "times"),
        (lambda: fit_arrhenius([2, 1], [1, 1], [20, 30], law="normal"), "law"),
        (lambda: fit_arrhenius([0, 1], [1, 1], [20, 30]), "time"),
        (lambda: fit_arrhenius([1], [1, 1], [20, 30]), "time, failed, celsius"),
    ],
)
def test_refusals_name_the_field(call, field):
    with pytest.raises(InputError) as refused:
        call()
    assert refused.value.field == field
