"""Fitting: what is accepted, what is refused and why, and what a prior makes of very little."""

from __future__ import annotations

import numpy as np
import pytest

from planner import ClockPrior, LifePrior, Spells, fit_life
from planner.errors import ClockNotIdentified, InputError, TooFewFailures

INF = np.inf
PRIOR = LifePrior(distance=ClockPrior(30_000, 70_000))
BOTH = LifePrior(distance=ClockPrior(30_000, 70_000), age=ClockPrior(5, 12))

HOPELESS = {
    "no failure": ([5, 6], [INF, INF]),
    "one failure alone": ([5], [5]),
    "all failed at one reading": ([5, 5, 5], [5, 5, 5]),
    "failed at the largest reading": ([5, 5, 3], [5, 5, INF]),
    "equal up to rounding": ([100 * 1.609344, 160.9344], [100 * 1.609344, 160.9344]),
    "only left-censored": ([0, 0, 0], [5, 6, 7]),
    "one interval alone": ([1], [4]),
    "intervals with a point in common": ([1, 2, 3], [4, 5, 6]),
    "failed before every good reading": ([0, 7], [5, INF]),
    "one look, same reading": ([0, 5], [5, INF]),
    "a step fits perfectly": ([0, 3, 0, 5], [5, INF, 6, INF]),
}


@pytest.mark.parametrize("rows", HOPELESS.values(), ids=HOPELESS.keys())
def test_one_clock_refuses_where_no_interior_maximum_exists(rows):
    with pytest.raises(TooFewFailures):
        fit_life(Spells.on_distance(*rows))


def test_a_shape_falling_to_nothing_is_refused():
    # All parts entered late and failed soon after: the likelihood is highest at shape 0 (a hazard of 1/t).
    end = np.array([10.1, 20.2, 100, 100])
    with pytest.raises(TooFewFailures, match="goes to 0"):
        fit_life(Spells.on_distance(end, [10.1, 20.2, INF, INF], [10, 20, 10, 10]))


CARRIES = {
    "one failure below one good": ([5, 7], [5, INF]),
    "two failures": ([5, 7], [5, 7]),
    "an interval below one good": ([1, 6, 3], [4, 8, INF]),
    "left- and right-censored, mixed": ([0, 4, 0], [3, INF, 6]),
    "one failure seen late": ([5, 7, 9], [5, INF, INF]),
    "almost equal": ([100, 100.1], [100, 100.1]),
    "six orders apart": ([1, 1e6], [1, 1e6]),
    "tiny weight above": ([5, 7], [5, INF], None, [1, 1e-12]),
    "tiny weights": ([5, 7], [5, INF], None, [1e-300, 1e-300]),
    "huge weights": ([5, 7], [5, INF], None, [1e300, 1e300]),
}


@pytest.mark.parametrize("rows", CARRIES.values(), ids=CARRIES.keys())
def test_one_clock_fits_where_an_interior_maximum_exists(rows):
    spells = Spells.on_distance(*rows)
    life = fit_life(spells)
    theta = life.parameters
    assert np.isfinite(theta).all()
    for step in (1e-3, 0.3, 2.0):
        for way in ((step, 0), (-step, 0), (0, step), (0, -step)):
            assert value(spells, theta + way) <= value(spells, theta)


def value(spells, theta):
    from planner.life.likelihood import log_likelihood
    from planner.life.terms import terms_of

    terms = terms_of(spells)
    return log_likelihood(terms, (theta - terms.shift)[None, :])[0]


def test_clocks_in_strict_proportion_cannot_be_told_apart():
    km = np.array([1e4, 2e4, 3e4, 5e4])
    spells = Spells.on_both(km, [1e4, INF, 3e4, INF], km / 1e3, [10, INF, 30, INF])
    with pytest.raises(ClockNotIdentified, match="proportion") as refusal:
        fit_life(spells)
    assert refusal.value.clock == "age"
    assert fit_life(spells, BOTH).evidence.prior_share > 0.4


def test_a_clock_that_never_moved_is_named():
    spells = Spells.on_both([0, 0, 0], [0, 0, INF], [2, 5, 7], [2, 5, INF])
    with pytest.raises(ClockNotIdentified) as refusal:
        fit_life(spells)
    assert refusal.value.clock == "distance"


@pytest.mark.parametrize("seed", [3, 6, 9])
def test_a_clock_without_a_say_is_named(seed):
    # Age alone fails these parts. Distance is named: no share of it at any shape up to 12 gains what
    # chi-square asks of a clock's two parameters (3 units of log-likelihood).
    random = np.random.default_rng(seed)
    years = 10 * random.weibull(3.0, 60)
    km = years * np.exp(random.normal(8, 0.7, 60))
    spells = Spells.on_both(km, km, years, years)
    with pytest.raises(ClockNotIdentified) as refusal:
        fit_life(spells)
    assert refusal.value.clock == "distance"
    age = fit_life(spells.only("age")).parameters
    without = value(spells, np.array([0.0, 60.0, *age]))
    for log_shape in np.linspace(-2, np.log(12), 20):
        for parts_failing in (1e-3, 0.1, 3.0):
            shape = np.exp(log_shape)
            log_scale = np.log((km**shape).sum() / parts_failing) / shape
            near = [value(spells, np.array([log_shape, log_scale, *(age + step)])) for step in NEARBY]
            assert max(near) < without + 3


NEARBY = [np.array([a, b]) for a in (-0.05, 0, 0.05) for b in (-0.02, 0, 0.02)]


def test_two_clocks_without_failures_are_refused():
    with pytest.raises(TooFewFailures, match="no part was seen to fail"):
        fit_life(Spells.on_both([5e4, 6e4], [INF, INF], [5, 6], [INF, INF]))


def test_bad_arguments_are_named():
    spells = Spells.on_distance([5, 7], [5, INF])
    wrong = [("draws", 0), ("fixed_shape", -1), ("fixed_shape", "2"), ("seed", -1), ("seed", "a")]
    for field, value in wrong:
        with pytest.raises(InputError) as refusal:
            fit_life(spells, **{field: value})
        assert refusal.value.field == field
    both = Spells.on_both([5, 7], [5, INF], [1, 2], [1, INF])
    with pytest.raises(InputError, match="fixed_shape"):
        fit_life(both, BOTH, fixed_shape=2.0)
    with pytest.raises(InputError, match="spells"):
        fit_life([1, 2])


LITTLE = {
    "one good part": ([40_000], [INF]),
    "one good part of no age": ([0], [INF]),
    "one failure": ([40_000], [40_000]),
    "one found bad at the first look": ([0], [40_000]),
    "only left-censored": ([0, 0, 0], [100, 200, 300]),
    "all identical": ([40_000] * 30, [40_000] * 30),
    "a thousand identical": ([40_000] * 1000, [40_000] * 1000),
    "1 km": ([1], [1]),
    "a million km": ([1e6], [1e6]),
    "1 km to a million": ([1, 1e3, 1e6], [1, 1e3, INF]),
    "failed at entry": ([40_000], [40_000], [40_000]),
    "a huge weight": ([40_000], [40_000], None, [1e12]),
    "a tiny weight": ([40_000], [40_000], None, [1e-12]),
}


@pytest.mark.parametrize("rows", LITTLE.values(), ids=LITTLE.keys())
def test_with_a_prior_nothing_is_too_little(rows):
    life = fit_life(Spells.on_distance(*rows), PRIOR)
    assert np.isfinite(life.draws).all()
    assert 0 <= life.evidence.prior_share <= 1
    assert 0 < life.distance.shape < 1000
    assert (np.diag(life.covariance) > 0).all()


def test_draws_of_a_part_that_failed_when_first_seen_stay_within_the_priors_reach():
    life = fit_life(Spells.on_distance([40_000], [40_000], [40_000]), PRIOR)
    assert (np.abs(life.draws - PRIOR.mean) <= 15 * PRIOR.spread).all()
    assert life.diagnostics.pareto_k > 0.7, (
        "a hazard without time at risk is no sound evidence, and the weights say so"
    )


def test_no_news_leaves_the_prior_alone():
    life = fit_life(Spells.on_distance([0], [INF]), PRIOR, draws=2000)
    assert life.parameters == pytest.approx(PRIOR.mean)
    assert life.covariance == pytest.approx(np.diag(PRIOR.spread**2))
    assert life.evidence.prior_share == pytest.approx(1)
    assert life.draws.std(axis=0) == pytest.approx(PRIOR.spread, rel=0.05)


def test_evidence_counts_weights():
    spells = Spells.on_distance([10, 20, 0, 5], [10, INF, 8, 9], weight=[1, 2, 0.25, 0.5])
    evidence = fit_life(spells, PRIOR).evidence
    assert evidence.histories == pytest.approx(3.75)
    assert evidence.failures == pytest.approx(1.75)


def test_prior_share_falls_as_evidence_grows():
    random = np.random.default_rng(2)
    km = 60_000 * random.weibull(2.5, 400)
    shares = [
        fit_life(Spells.on_distance(km[:n], km[:n]), PRIOR).evidence.prior_share for n in (1, 4, 20, 400)
    ]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] > 0.6
    assert shares[-1] < 0.05


def test_a_strong_prior_and_the_likelihood_agree_on_the_density_unit():
    # Log-likelihood leaves the prior out: with a prior pinned at the estimate it is the same number.
    km = np.array([2e4, 3e4, 5e4, 9e4])
    free = fit_life(Spells.on_distance(km, km))
    spread = 1e-4
    b10, b50 = (free.life_at(p).km for p in (0.1, 0.5))
    pinned = fit_life(Spells.on_distance(km, km), LifePrior(distance=ClockPrior(b10, b50, spread, spread)))
    assert pinned.log_likelihood == pytest.approx(free.log_likelihood, abs=1e-6)
    assert pinned.evidence.prior_share == pytest.approx(1, abs=1e-4)


def test_known_shape_with_a_prior_on_the_scale():
    km = np.array([2e4, 3e4, 5e4, 9e4])
    life = fit_life(Spells.on_distance(km, km), PRIOR, fixed_shape=2.0)
    centre, spread = PRIOR.mean[1], PRIOR.spread[1]
    log_scale = np.log(life.distance.scale)
    slope = -2 * 4 + 2 * ((km / life.distance.scale) ** 2).sum() - (log_scale - centre) / spread**2
    assert slope == pytest.approx(0, abs=1e-6)
    assert life.covariance[0].tolist() == [0, 0]


def test_same_seed_same_draws():
    spells = Spells.on_distance([5e4, 7e4], [5e4, INF])
    first, again, other = (fit_life(spells, PRIOR, seed=s).draws for s in (1, 1, 2))
    assert (first == again).all()
    assert (first != other).any()
