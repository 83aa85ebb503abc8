"""Records and prior held against each other: silent where they agree, plain where they do not."""

import numpy as np
import pytest
from scipy.stats import chi2, kstest

from planner import ClockPrior, LifePrior, Spells, against_prior, book_life, fit_life, known_life
from planner.errors import InputError
from planner.life.measured.path_life import life_on_path
from planner.life.modifiers.in_circumstances import book_multiplier, life_in
from planner.life.modifiers.values import Modifier
from planner.life.second_opinions.against_prior import _beyond
from tests.planner.simulated.recovery_world import PRIOR, fleet, prior_off_by


def test_tails_are_those_of_chi_squared():
    for directions in range(1, 5):
        for squared in (0.01, 1.0, 9.5, 40.0):
            assert _beyond(squared, directions) == pytest.approx(chi2.sf(squared, directions), rel=1e-12)


def test_a_normal_case_by_hand():
    # Known shape by a tight prior: ln scale has prior N(ln m, 0.5²), 100 failures give it a variance near (1/β)²/100.
    random = np.random.default_rng(5)
    prior = LifePrior(age=ClockPrior(5.0, 8.0, spread_scale=0.5, spread_shape=1e-4))
    lives = 5.0 * prior.age.scale * random.weibull(prior.age.shape, 100)
    life = fit_life(Spells.on_age(lives, lives), prior)
    found = against_prior(life)
    expected = abs(life.parameters[1] - prior.mean[1]) / np.sqrt(0.25 - life.covariance[1, 1])
    assert found.p == pytest.approx(chi2.sf(expected**2, 1), rel=0.02)
    assert (found.directions, found.farthest) == (1, "scale of age")
    assert found.scale["age"] == pytest.approx(5.0, rel=0.1)
    assert "life on the age clock is 5 times" in found.words
    assert "disagree" in found.words


def test_truths_from_the_prior_are_seldom_called_off_it():
    # Under the prior p is nearly uniform: over 120 fleets of 60 the law is not told from it, and a hundredth is below 0.01.
    found = [against_prior(fit_life(fleet(n, 60).spells, PRIOR, seed=n, draws=20)).p for n in range(120)]
    assert kstest(found, "uniform").pvalue > 0.01
    assert np.mean(np.array(found) < 0.01) <= 4 / 120


def test_a_prior_three_times_too_long_is_found_out():
    off = [
        against_prior(fit_life(fleet(n, 60).spells, prior_off_by(3.0), seed=n, draws=20)) for n in range(30)
    ]
    assert np.mean([one.p < 0.01 for one in off]) > 0.25
    assert all("disagree" in one.words for one in off if one.p < 0.005)


def test_records_that_say_nothing_cannot_disagree():
    one = fit_life(Spells.on_both([100.0], [np.inf], [0.1], [np.inf]), PRIOR)
    found = against_prior(one)
    assert (found.p, found.directions) == (1.0, 0)
    assert found.words == "the records say too little to disagree with the book"
    assert against_prior(book_life(PRIOR)).p == 1.0


def test_a_life_without_a_prior_or_made_from_another_is_refused():
    heat = book_multiplier(Modifier("heat", ("age",), 0.4, 0.3), 400)
    for life in (known_life(age=(3.0, 8.0)), None, life_in(book_life(PRIOR), [heat])):
        with pytest.raises(InputError, match="fitted with a prior"):
            against_prior(life)


def test_a_life_on_a_measured_path_is_no_fit_against_the_prior():
    for clock in ("distance", "age"):
        with pytest.raises(InputError, match="fitted with a prior"):
            against_prior(life_on_path(book_life(PRIOR), clock, [1.0, 2.0]))


@pytest.mark.full
def test_with_a_dozen_histories_fewer_than_one_kind_in_sixty_is_named():
    found = [against_prior(fit_life(fleet(n, 12).spells, PRIOR, seed=n, draws=20)) for n in range(2_000)]
    shares = {limit: float(np.mean([one.p < limit for one in found])) for limit in (0.05, 0.01, 0.005, 0.001)}
    print(f"\n12 histories, 2,000 fleets that agree with the prior: share of p below {shares}")
    assert np.mean([one.telling for one in found]) < 1 / 60
