"""Whether a life fits its records: the stated rate of false alarms, lives that do not fit, closed forms and refusals."""

from __future__ import annotations

import numpy as np
import pytest

from planner import ClockPrior, LifePrior, Spells, fit_life, goodness_of_fit, known_life
from planner.errors import InputError, SpellError

INF = np.inf
LAW = known_life(age=(2, 10))


def sample(random, size=80):
    """Lives of shape 2 and scale 10 with late entry, half of the failures known to a year, a third of all parts still good."""
    life, entry = 10 * random.weibull(2, 2 * size), random.uniform(0, 6, 2 * size)
    life, entry = life[life > entry][:size], entry[life > entry][:size]
    stop = entry + random.uniform(4, 20, len(life))
    lower, upper = np.minimum(life, stop), np.where(life <= stop, life, INF)
    looked = np.isfinite(upper) & (random.random(len(life)) < 0.5)
    lower[looked], upper[looked] = np.maximum(np.floor(life[looked]), entry[looked]), np.ceil(life[looked])
    return Spells.on_age(lower, upper, entry)


@pytest.mark.parametrize(
    ("fitted", "runs", "between"), [(False, 300, (0.05, 0.16)), (True, 120, (0.02, 0.18))]
)
def test_the_right_law_is_doubted_about_as_often_as_stated(fitted, runs, between):
    # Stated: p below 0.1 in a tenth of the runs; limits of about three binomial standard deviations, fits being a little below.
    random, doubts, halves = np.random.default_rng(8), 0, 0
    for run in range(runs):
        spells = sample(random)
        life = fit_life(spells, draws=1) if fitted else LAW
        p = goodness_of_fit(life, spells, simulations=200, seed=run).p
        doubts, halves = doubts + (p < 0.1), halves + (p < 0.5)
    assert between[0] <= doubts / runs <= between[1]
    assert halves / runs == pytest.approx(0.5, abs=0.15)


def test_two_kinds_of_parts_under_one_law_are_found():
    random = np.random.default_rng(1)
    ends = np.concatenate([random.normal(1, 0.1, 30), random.normal(20, 1, 30)])
    spells = Spells.on_age(ends, ends)
    found = goodness_of_fit(fit_life(spells, draws=1), spells)
    assert found.p < 0.01
    assert found.departure < -20  # nothing fails between the two heaps, of which the law knows nothing
    assert 15 < found.reading < 20
    assert found.words.startswith("the records bend away from the life at about 18")
    assert "fewer failures by then than expected" in found.words
    assert abs(found.z) < 1e-6, "a fitted law expects as many failures as there were"


def test_two_clocks_are_judged_by_their_residuals():
    random = np.random.default_rng(3)
    rate = random.lognormal(np.log(5_000), 0.5, 300)
    two = np.minimum(60_000 * random.weibull(3, 300) / rate, 15 * random.weibull(3, 300))
    stop = random.uniform(3, 20, 300)
    lower, upper = np.minimum(two, stop), np.where(two <= stop, two, INF)
    spells = Spells.on_both(lower * rate, upper * rate, lower, upper)
    right = goodness_of_fit(fit_life(spells, draws=1), spells)
    assert right.p > 0.1
    assert "nothing in the records speaks against" in right.words
    wrong = goodness_of_fit(known_life(distance=(3, 60_000), age=(3, 40)), spells)
    assert wrong.p < 0.01
    assert wrong.z > 3
    assert (wrong.reading, wrong.unit) == (None, None)
    assert "more failures by then than expected" in wrong.words
    assert "of new parts would have failed" in wrong.words


def test_failures_expected_in_closed_form():
    # Λ = t/10. Watched from 2 to 7 and failed: 0.5. Watched from 0 to 4, good: 0.4, written twice. Failed between 0 and 10: of a
    # unit exponential within 1 the mean is 1 - 1/(e - 1).
    spells = Spells.on_age([7, 4, 0.0], [7, INF, 10], [2, 0, 0], [1, 2, 1])
    found = goodness_of_fit(known_life(age=(1, 10)), spells, simulations=50)
    assert found.observed == 2
    assert found.expected == pytest.approx(0.5 + 2 * 0.4 + 1 - 1 / (np.e - 1))
    assert found.z == pytest.approx((found.observed - found.expected) / found.expected**0.5)
    assert found == goodness_of_fit(known_life(age=(1, 10)), spells, simulations=50)


@pytest.mark.parametrize(
    ("change", "error", "field"),
    [
        ({"life": 1}, InputError, "life"),
        ({"spells": [1.0]}, SpellError, "spells"),
        ({"spells": Spells.on_distance([1.0], [1.0])}, SpellError, "spells"),
        ({"simulations": 0}, InputError, "simulations"),
        ({"seed": -1}, InputError, "seed"),
    ],
)
def test_refusals_name_the_field(change, error, field):
    given = {"life": LAW, "spells": Spells.on_age([1.0], [1.0]), **change}
    with pytest.raises(error) as refused:
        goodness_of_fit(given.pop("life"), given.pop("spells"), **given)
    assert refused.value.field == field


def seen_for_a_while(random, count, shape=2.0, scale=10.0):
    lives, ends = scale * random.weibull(shape, count), random.uniform(2, 20, count)
    return Spells.on_age(np.minimum(lives, ends), np.where(lives < ends, lives, np.inf))


def test_other_records_are_doubted_no_more_often_than_stated():
    # With the fit taken out that these records never had, seven in ten were doubted.
    random = np.random.default_rng(3)
    found = [
        goodness_of_fit(
            fit_life(seen_for_a_while(random, 60), draws=1),
            seen_for_a_while(random, 60),
            own=False,
            simulations=200,
        ).p
        for _ in range(60)
    ]
    assert np.mean(np.array(found) < 0.05) < 0.15
    assert np.mean(np.array(found) < 0.5) == pytest.approx(0.5, abs=0.2)


def test_a_prior_s_pull_is_no_departure():
    # Truths drawn from the prior: without the pull a fifth of small fleets was doubted at one in twenty.
    random = np.random.default_rng(4)
    prior = LifePrior(age=ClockPrior(4.0, 9.0, spread_scale=0.3, spread_shape=0.3))
    found = []
    for _ in range(80):
        shape, scale = np.exp(prior.mean + prior.spread * random.standard_normal(2))
        spells = seen_for_a_while(random, 20, shape, scale)
        found.append(goodness_of_fit(fit_life(spells, prior, draws=1), spells, simulations=200).p)
    assert np.mean(np.array(found) < 0.05) < 0.12
