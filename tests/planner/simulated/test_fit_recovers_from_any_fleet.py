"""With a prior no fit fails, whatever the fleet: from one part to forty, any evidence, lives far from what was believed."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from planner import Spells, fit_life
from planner.life.terms import terms_of
from tests.planner.simulated.recovery_reference import log_density
from tests.planner.simulated.recovery_world import PRIOR

INF = np.inf


def any_fleet(number: int) -> Spells:
    """Exact, interval-, left- and right-censored rows in any mixture, with weights, entries and clocks that stand still."""
    random = np.random.default_rng([4471, number])
    count = int(random.integers(1, 41))
    far = np.exp(random.normal(0, 1.5, 2))
    rate = 6_000 * np.exp(random.normal(0, 1, count)) * far[0]
    lower = 8 * far[1] * random.weibull(np.exp(random.normal(0.8, 0.7)), count) + 1e-6
    if random.random() < 0.1:
        rate[:], lower[:] = rate[0], lower[0]  # all alike
    kinds = random.dirichlet(np.full(4, 0.5))
    kind = random.choice(4, count, p=kinds)  # exact, still good, between looks, bad at the first look
    entry = np.where(random.random(count) < 0.4, lower * random.random(count), 0.0)
    lower = np.where(kind == 3, entry, lower)
    wide = lower + 8 * far[1] * random.random(count) + 1e-6
    upper = np.where(kind == 0, lower, np.where(kind == 1, INF, wide))
    stood = (random.random(count) < 0.2) & (kind == 2)
    km = [rate * entry, rate * lower, np.where(stood, rate * lower, rate * upper)]
    weight = np.exp(random.normal(0, 1, count))
    return Spells.on_both(km[1], km[2], lower, upper, km[0], entry, weight=weight, km_per_year=rate)


def fitted_soundly(number: int) -> None:
    """Fit one fleet: finite numbers, a share of the prior between 0 and 1, draws around the estimate."""
    life = fit_life(any_fleet(number), PRIOR, seed=number)
    assert np.isfinite(life.parameters).all(), number
    assert np.isfinite(life.draws).all(), number
    assert np.isfinite(life.covariance).all(), number
    assert 0 <= life.evidence.prior_share <= 1, number
    away = np.abs(np.median(life.draws, axis=0) - life.parameters) / life.draws.std(axis=0)
    assert (away < 3).all(), number


def test_thirty_fleets_of_any_kind_are_fitted():
    for number in range(30):
        fitted_soundly(number)


@pytest.mark.full
@pytest.mark.timeout(7_200)
def test_ten_thousand_fleets_of_any_kind_are_fitted():
    for number in range(10_000):
        fitted_soundly(number)
        if number % 1_000 == 999:
            print(f"{number + 1} fleets fitted, none failed", flush=True)


def test_one_part_leaves_the_prior_nearly_alone():
    for lower, upper in ((5.0, 5.0), (5.0, INF), (0.0, 5.0), (4.0, 5.0)):
        life = fit_life(
            Spells.on_both([6_000 * lower], [6_000 * upper], [lower], [upper], km_per_year=6_000), PRIOR
        )
        assert life.evidence.prior_share > 0.7
        assert (life.draws.std(axis=0) > 0.7 * PRIOR.spread).all()


def test_the_same_reading_ten_times_is_no_certainty_about_the_next():
    # Ten failures at 5 years to the day: the answer stays a spread of lives, not one certain day.
    life = fit_life(Spells.on_both([30_000.0] * 10, [30_000.0] * 10, [5.0] * 10, [5.0] * 10), PRIOR)
    low, high = life.life_at(0.10, km_per_year=6_000).with_interval(0.90)
    assert low.years < 4.5
    assert high.years - low.years > 0.5
    assert (life.draws.std(axis=0) > 0.1 * PRIOR.spread).all()


def test_of_two_peaks_the_higher_one_is_the_answer():
    # 34 parts that either clock explains alone: climbs from the prior's middle and from all starts end 3.8 below the top.
    life = fit_life(any_fleet(7981), PRIOR, seed=7981)
    terms = terms_of(any_fleet(7981))
    top = log_density(terms, life.parameters[None, :])[0]
    random = np.random.default_rng(0)
    anywhere = PRIOR.mean + 1.5 * PRIOR.spread * random.standard_normal((20, 4))
    found = [
        minimize(lambda at: -log_density(terms, at[None, :])[0], at, method="Nelder-Mead") for at in anywhere
    ]
    assert top >= max(-one.fun for one in found) - 1e-6
    fitted_soundly(7981)
