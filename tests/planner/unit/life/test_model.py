"""A life's arithmetic: survival, failure ahead, life at a fraction, storage; and what it refuses."""

from __future__ import annotations

import json

import numpy as np
import pytest

from planner import ClockPrior, Life, LifePrior, Spells, fit_life, known_life
from planner.errors import InputError

BOTH = known_life(distance=(2.5, 60_000), age=(3.0, 12.0))
WEAR = known_life(distance=(2.5, 60_000))
AGE = known_life(age=(3.0, 12.0))


def test_known_parameters_are_kept():
    assert (BOTH.distance.shape, BOTH.distance.scale) == (2.5, 60_000)
    assert WEAR.age is None
    assert AGE.distance is None
    assert BOTH.draws == pytest.approx(np.log([[2.5, 60_000, 3, 12]]))
    assert not BOTH.covariance.any()
    assert np.isnan(BOTH.log_likelihood)


def test_cumulative_hazards_add():
    both = BOTH.cumulative_hazard(km=30_000, years=6)
    assert both == pytest.approx(0.5**2.5 + 0.5**3)
    assert both == pytest.approx(WEAR.cumulative_hazard(km=30_000) + AGE.cumulative_hazard(years=6))
    assert BOTH.survival(km=30_000, years=6) == pytest.approx(np.exp(-both))
    assert BOTH.survival(km=0, years=0) == 1
    assert BOTH.survival(km=np.inf, years=1) == 0


def test_arrays_broadcast():
    km, years = np.array([0.0, 1e4, 2e4]), np.array([[1.0], [2.0]])
    assert BOTH.survival(km=km, years=years).shape == (2, 3)
    assert BOTH.cumulative_hazard_draws(km=km, years=years).shape == (1, 2, 3)
    assert BOTH.hazard_draws(km=km, years=years, km_per_year=5000).shape == (1, 2, 3)
    assert BOTH.failure_within(km=km, years=1, more_km=1, more_years=years).shape == (2, 3)
    assert BOTH.failure_within_draws(km=km, years=years, more_km=1, more_years=0).shape == (1, 2, 3)
    assert BOTH.cumulative_hazard_draws(km=1.0, years=1.0).shape == (1,)
    assert BOTH.cumulative_hazard_draws(km=km, years=years)[0] == pytest.approx(
        BOTH.cumulative_hazard(km=km, years=years)
    )


def test_failure_ahead_is_conditional():
    ahead = BOTH.failure_within(km=30_000, years=6, more_km=5_000, more_years=1)
    plain = 1 - BOTH.survival(km=35_000, years=7) / BOTH.survival(km=30_000, years=6)
    assert ahead == pytest.approx(plain, rel=1e-12)
    assert BOTH.failure_within(km=30_000, years=6, more_km=0, more_years=0) == 0
    assert BOTH.failure_within(km=0, years=0, more_km=5_000, more_years=1) == pytest.approx(
        1 - BOTH.survival(km=5_000, years=1)
    )
    assert BOTH.failure_within(km=1, years=1, more_km=np.inf, more_years=0) == 1


def test_tiny_chances_are_not_rounded_away():
    step = BOTH.failure_within(km=30_000, years=6, more_km=1e-12, more_years=0)
    assert step == pytest.approx(2.5 / 60_000 * 0.5**1.5 * 1e-12, rel=1e-9)
    assert BOTH.failure_within(km=1e-300, years=0, more_km=1, more_years=0) == pytest.approx(60_000**-2.5)


def test_hazard_per_year_on_a_path():
    rate = 4000.0
    expected = rate * 2.5 / 60_000 * 0.5**1.5 + 3 / 12 * 0.5**2
    assert BOTH.hazard(km=30_000, years=6, km_per_year=rate) == pytest.approx(expected)
    assert AGE.hazard(years=6) == pytest.approx(3 / 12 * 0.25)
    infant = known_life(distance=(0.5, 10.0), age=(2.0, 10.0))
    assert infant.hazard(km=0, years=5, km_per_year=0) == pytest.approx(0.1)
    with pytest.raises(InputError, match="km_per_year"):
        WEAR.hazard(km=1)
    with pytest.raises(InputError, match="km_per_year"):
        WEAR.hazard(km=1, km_per_year=-1)


@pytest.mark.parametrize(
    ("life", "given", "field"),
    [
        (BOTH, {"km": 1}, "years"),
        (BOTH, {"years": 1}, "km"),
        (WEAR, {"km": 1, "years": 1}, "years"),
        (AGE, {"km": 1}, "km"),
        (WEAR, {"km": -1}, "km"),
        (WEAR, {"km": [1, np.nan]}, "km"),
        (WEAR, {"km": "far"}, "km"),
        (WEAR, {"km": np.ma.array([1.0, 2.0], mask=[False, True])}, "km"),
        (WEAR, {"km": [1.0, np.ma.masked]}, "km"),
        (WEAR, {"km": 1 + 2j}, "km"),
        (WEAR, {"km": 10**400}, "km"),
        (WEAR, {"km": 10**5000}, "km"),
        (AGE, {"years": np.array(["2020-01-01"], dtype="datetime64[D]")}, "years"),
        (AGE, {"years": np.timedelta64(3, "D")}, "years"),
        (BOTH, {"km": [1, 2], "years": [1, 2, 3]}, "km, years"),
    ],
)
def test_clocks_must_be_the_models(life, given, field):
    with pytest.raises(InputError) as refusal:
        life.survival(**given)
    assert refusal.value.field == field


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"km": 1}, "more_km"),
        ({"km": 1, "more_km": 1, "more_years": 1}, "more_years"),
        ({"km": 1, "years": 1, "more_km": 1}, "years"),
        ({"km": np.inf, "more_km": 1}, "km"),
        ({"km": 1, "more_km": -1}, "more_km"),
    ],
)
def test_stretch_must_be_on_the_models_clocks(given, field):
    with pytest.raises(InputError) as refusal:
        WEAR.failure_within(**given)
    assert refusal.value.field == field


def test_life_at_a_fraction():
    b10 = WEAR.life_at(0.10)
    assert b10.km == pytest.approx(60_000 * (-np.log(0.9)) ** (1 / 2.5))
    assert b10.years is None
    assert WEAR.life_at(0.10, km_per_year=4000).years == pytest.approx(b10.km / 4000)
    assert AGE.life_at(0.5).km is None
    assert AGE.life_at(0.5, km_per_year=4000).km == pytest.approx(4000 * AGE.life_at(0.5).years)
    point = BOTH.life_at(0.10, km_per_year=4000)
    assert point.km == pytest.approx(4000 * point.years)
    assert BOTH.survival(km=point.km, years=point.years) == pytest.approx(0.9, rel=1e-12)
    parked = BOTH.life_at(0.10, km_per_year=0)
    assert parked.years == pytest.approx(AGE.life_at(0.10).years)


@pytest.mark.parametrize("fraction", [1e-12, 0.001, 0.999, 1 - 1e-12])
@pytest.mark.parametrize("rate", [1e-6, 10.0, 1e9])
def test_life_at_extreme_fractions_and_rates(fraction, rate):
    point = BOTH.life_at(fraction, km_per_year=rate)
    wanted = -np.log1p(-fraction)
    assert BOTH.cumulative_hazard(km=point.km, years=point.years) == pytest.approx(wanted, rel=1e-9)


def test_life_at_refuses():
    for fraction in (0, 1, -0.1, np.nan, "0.1", None, [0.1, 0.2], True, np.timedelta64(0, "D")):
        with pytest.raises(InputError, match="fraction"):
            WEAR.life_at(fraction)
    with pytest.raises(InputError, match="km_per_year"):
        BOTH.life_at(0.1)
    for rate in (0, -1, np.inf, np.nan, "fast", [1, 2], 10**400):
        with pytest.raises(InputError, match="km_per_year"):
            WEAR.life_at(0.1, km_per_year=rate)
    for rate in (-1, np.inf, "fast", [1, 2]):
        with pytest.raises(InputError, match="km_per_year"):
            BOTH.life_at(0.1, rate)
    with pytest.raises(InputError, match="km_per_year"):
        WEAR.hazard(km=1, km_per_year=np.ma.array([1.0, 2.0], mask=[0, 1]))


def test_known_life_refuses():
    for given in (
        {},
        {"distance": (0, 1)},
        {"distance": (1, np.inf)},
        {"age": (1,)},
        {"age": 3},
        {"age": ("a", 1)},
        {"age": "ab"},
        {"age": (10**400, 1)},
        {"age": (1 + 1j, 1)},
        {"age": (np.timedelta64(1, "D"), 1)},
    ):
        with pytest.raises(InputError):
            known_life(**given)


def fitted():
    random = np.random.default_rng(4)
    years = random.weibull(2.0, 30) * 10
    km = years * 3000
    failed = random.random(30) < 0.5
    spells = Spells.on_both(km, np.where(failed, km, np.inf), years, np.where(failed, years, np.inf))
    return fit_life(spells, LifePrior(distance=ClockPrior(30_000, 60_000), age=ClockPrior(5, 12)), draws=50)


def test_stored_life_comes_back():
    life = fitted()
    again = Life.from_dict(json.loads(json.dumps(life.to_dict(), allow_nan=False)))
    assert again.distance == life.distance
    assert again.age == life.age
    assert again.prior == life.prior
    assert again.evidence == life.evidence
    assert again.diagnostics == life.diagnostics
    assert again.log_likelihood == life.log_likelihood
    assert again.covariance == pytest.approx(life.covariance)
    assert again.draws == pytest.approx(life.draws, abs=1e-5)
    assert again.survival(km=2e4, years=5) == life.survival(km=2e4, years=5)


def test_a_life_stored_as_schema_1_loads_as_it_was_written():
    # Written out by hand after the schema: whole numbers, nulls for what is not known, a key that nobody reads.
    stored = {
        "schema": 1, "distance": None, "age": {"shape": 2, "scale": 9.5}, "log_likelihood": None,
        "covariance": [[0, 0], [0, 0]], "draws": [[0.6931472, 2.251292]],
        "evidence": {"histories": 3, "failures": 0.5, "prior_share": 1},
        "diagnostics": {"effective_sample_size": 1, "pareto_k": None, "sampler": "none"},
        "prior": {"distance": None, "age": {"p10": 6, "p50": 18.0, "spread_scale": 0.5, "spread_shape": 0.35}},
        "known_shape": True, "note": "left alone",
    }  # fmt: skip
    life = Life.from_dict(stored)
    assert (life.distance, life.age.shape, life.age.scale) == (None, 2.0, 9.5)
    assert life.draws.tolist() == [[0.6931472, 2.251292]]
    assert (life.evidence.histories, life.evidence.failures, life.known_shape) == (3.0, 0.5, True)
    assert np.isnan(life.log_likelihood)
    assert np.isnan(life.diagnostics.pareto_k)
    assert life.prior == LifePrior(age=ClockPrior(p10=6, p50=18))


def test_known_life_is_stored_without_nan():
    text = json.dumps(BOTH.to_dict(), allow_nan=False)
    assert np.isnan(Life.from_dict(json.loads(text)).log_likelihood)


def test_stored_life_without_data_refuses_the_likelihood_ratio():
    again = Life.from_dict(fitted().to_dict())
    low, high = again.life_at(0.1, 3000).with_interval()
    assert low.years < again.life_at(0.1, 3000).years < high.years
    with pytest.raises(InputError, match="no longer holds its data"):
        again.life_at(0.1, 3000).with_interval(method="likelihood ratio")
    with pytest.raises(InputError, match="no longer holds its data"):
        again.likelihood_ratio_limits("age.shape")


@pytest.mark.parametrize(
    ("spoil", "field"),
    [
        (lambda c: c.update(schema=99), "schema"),
        (lambda c: c.update(schema=True), "schema"),
        (lambda c: c.pop("draws"), "draws"),
        (lambda c: c.update(draws=[[1.0]]), "draws"),
        (lambda c: c.update(draws=[]), "draws"),
        (lambda c: c["draws"][3].__setitem__(1, None), "draws"),
        (lambda c: c["draws"][3].__setitem__(1, float("nan")), "draws"),
        (lambda c: c.update(draws=[["1", "2", "3", "4"]]), "draws"),
        (lambda c: c.update(covariance="x"), "covariance"),
        (lambda c: c["covariance"][0].__setitem__(0, None), "covariance"),
        (lambda c: c.update(distance=None), "covariance"),
        (lambda c: c.update(distance=None, age=None), "distance, age"),
        (lambda c: c["distance"].update(shape=float("nan")), "distance.shape"),
        (lambda c: c["distance"].update(shape=-2.0), "distance.shape"),
        (lambda c: c["age"].update(scale="12"), "age.scale"),
        (lambda c: c["age"].pop("scale"), "age.scale"),
        (lambda c: c.update(age=7), "age"),
        (lambda c: c.update(evidence={"histories": 1}), "evidence.failures"),
        (lambda c: c["evidence"].update(histories="3"), "evidence.histories"),
        (lambda c: c["evidence"].update(failures=-1), "evidence.failures"),
        (lambda c: c["diagnostics"].update(pareto_k="0.1"), "diagnostics.pareto_k"),
        (lambda c: c.update(log_likelihood="low"), "log_likelihood"),
        (lambda c: c.update(known_shape=0), "known_shape"),
        (lambda c: c.update(prior={"distance": None, "age": {"p10": "6", "p50": 18}}), "prior.age.p10"),
    ],
)
def test_malformed_stored_life_is_refused_by_field(spoil, field):
    content = fitted().to_dict()
    spoil(content)
    with pytest.raises(InputError) as refused:
        Life.from_dict(content)
    assert refused.value.field == field
    with pytest.raises(InputError):
        Life.from_dict("life")
