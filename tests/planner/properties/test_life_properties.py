"""Whatever the data: survival falls, weights repeat, units do not matter, derivatives are true."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from planner import ClockPrior, LifePrior, Spells, fit_life, known_life
from planner.life.likelihood import derivatives, log_likelihood
from planner.life.terms import terms_of
from planner.units import KM_PER_MILE

shapes = st.floats(0.3, 8)
km = st.floats(0, 3e5)
years = st.floats(0, 40)
PRIOR = LifePrior(distance=ClockPrior(30_000, 70_000), age=ClockPrior(5, 12))


@st.composite
def two_clock_spells(draw, largest=8):
    """Rows of every kind, with delayed entry and weights."""
    count = draw(st.integers(1, largest))
    column = lambda low, high: np.array([draw(st.floats(low, high)) for _ in range(count)])  # noqa: E731 - local
    kind = np.array([draw(st.sampled_from(["exact", "good", "between", "standing"])) for _ in range(count)])
    entry = column(0, 1e5) * column(0, 1).round()
    a_entry = column(0, 10) * (entry > 0)
    lower, a_lower = entry + column(1, 1e5), a_entry + column(0.01, 10)
    upper = np.where(kind == "good", np.inf, lower + column(1, 1e5) * (kind == "between"))
    a_upper = np.where(kind == "good", np.inf, a_lower + column(0.01, 5) * (kind != "exact"))
    return Spells.on_both(lower, upper, a_lower, a_upper, entry, a_entry, weight=column(0.1, 5))


@given(shapes, shapes, km, years, km, years)
def test_survival_falls_along_either_clock(bu, ba, u, a, more_u, more_a):
    life = known_life(distance=(bu, 60_000), age=(ba, 12))
    here = life.survival(km=u, years=a)
    assert 0 <= life.survival(km=u + more_u, years=a) <= here <= 1
    assert life.survival(km=u, years=a + more_a) <= here


@given(shapes, shapes, km, years, km, km, years)
def test_a_longer_stretch_is_never_safer(bu, ba, u, a, step, further, more_a):
    life = known_life(distance=(bu, 60_000), age=(ba, 12))
    near = life.failure_within(km=u, years=a, more_km=step, more_years=more_a)
    assert 0 <= near <= life.failure_within(km=u, years=a, more_km=step + further, more_years=more_a) <= 1


@given(two_clock_spells(), st.lists(st.floats(-0.8, 0.8), min_size=4, max_size=4))
def test_gradient_and_hessian_are_true(spells, theta):
    for rows in (spells, spells.only("distance"), spells.only("age")):
        terms = terms_of(rows)
        at, step = np.array(theta[: 2 * len(terms.clocks)]), 1e-5
        here = derivatives(terms, at)
        size = 1 + np.abs(here.hessian).max()
        for i, way in enumerate(step * np.eye(len(at))):
            up, down = derivatives(terms, at + way), derivatives(terms, at - way)
            assert abs(here.gradient[i] - (up.value - down.value) / 2 / step) < 1e-5 * size
            assert np.abs(here.hessian[i] - (up.gradient - down.gradient) / 2 / step).max() < 1e-5 * size
        assert np.isclose(log_likelihood(terms, at[None, :])[0], here.value, rtol=1e-12, atol=1e-12)


@settings(max_examples=40, deadline=None)
@given(two_clock_spells(), st.data())
def test_weights_equal_repetition(spells, data):
    times = np.array([data.draw(st.integers(1, 3)) for _ in range(len(spells))])
    once = spells.take(np.repeat(np.arange(len(spells)), times))
    heavy = Spells(spells.km, spells.years, spells.weight * times, spells.km_per_year)
    first, second = fit_life(once, PRIOR, draws=10), fit_life(heavy, PRIOR, draws=10)
    assert np.allclose(first.parameters, second.parameters, rtol=1e-6, atol=1e-6)
    assert np.isclose(first.log_likelihood, second.log_likelihood, rtol=1e-8)
    assert np.isclose(first.evidence.histories, second.evidence.histories)


@settings(max_examples=40, deadline=None)
@given(two_clock_spells())
def test_km_and_miles_agree(spells):
    k = KM_PER_MILE
    miles = Spells.on_both(
        spells.km.lower / k, spells.km.upper / k, spells.years.lower, spells.years.upper, spells.km.entry / k,
        spells.years.entry, spells.weight, None if not spells.exact.any() else spells.km_per_year / k,
    )  # fmt: skip
    in_km = fit_life(spells, PRIOR, draws=10)
    prior = LifePrior(distance=ClockPrior(30_000 / k, 70_000 / k), age=PRIOR.age)
    in_miles = fit_life(miles, prior, draws=10)
    shift = np.array([0, np.log(k), 0, 0])
    assert np.allclose(in_miles.parameters + shift, in_km.parameters, rtol=1e-6, atol=1e-6)
    assert np.allclose(in_miles.covariance, in_km.covariance, rtol=1e-5, atol=1e-8)
    assert np.isclose(in_miles.log_likelihood, in_km.log_likelihood, rtol=1e-7, atol=1e-7)


@settings(max_examples=60, deadline=None)
@given(two_clock_spells(), st.floats(1, 1e6), st.floats(0.01, 3), st.floats(0.05, 2))
def test_with_a_prior_every_fit_stands(spells, p50, ratio, spread):
    prior = LifePrior(distance=ClockPrior(p50 / (1 + ratio), p50, spread, spread), age=PRIOR.age)
    life = fit_life(spells, prior, draws=20)
    assert np.isfinite(life.draws).all()
    assert 0 <= life.evidence.prior_share <= 1
    assert np.linalg.eigvalsh(life.covariance)[0] > 0


@settings(max_examples=40, deadline=None)
@given(two_clock_spells())
def test_a_clock_that_never_ticks_leaves_the_other(spells):
    # With the age clock's hazard put out of reach, two clocks say what distance alone says, where all moved.
    if (spells.interval & (spells.km.lower == spells.km.upper)).any():
        return
    never = ClockPrior(1e30, 2e30, 1e-3, 1e-3)
    both = fit_life(spells, LifePrior(distance=PRIOR.distance, age=never), draws=10)
    alone = fit_life(spells.only("distance"), LifePrior(distance=PRIOR.distance), draws=10)
    assert np.allclose(both.parameters[:2], alone.parameters, rtol=1e-5, atol=1e-5)
