"""Fleets of cars that differ, from truth drawn from the prior: is each car's own multiplier covered as often as is said?"""

from __future__ import annotations

import numpy as np
import pytest

from planner import ClockPrior, LifePrior, Spells
from planner.life.cars.frailty import fit_with_cars

INF = np.inf
PRIOR = LifePrior(age=ClockPrior(4, 8, spread_scale=0.4, spread_shape=0.3))
CARS, PARTS, ASKED = 40, 3, 15


def fleet(random):
    """Spells by car and each car's Z: parts seen from 0-4 years on for 7 years, only where all of a car's lived so long; one in three
    is looked at every two years."""
    shape, scale = np.exp(random.normal(PRIOR.mean, PRIOR.spread))
    k = np.exp(random.normal(np.log(6), 1))
    z, rows = [], []
    while len(z) < CARS:
        own = random.gamma(k, 1 / k)
        life = scale * (random.exponential(1, PARTS) / own) ** (1 / shape)
        entry = random.uniform(0, 4, PARTS) * (random.random(PARTS) < 0.5)
        if (life > entry).all():
            z.append(own)
            rows += [_row(random, len(z) - 1, *part) for part in zip(life, entry, strict=True)]
    car, entry, lower, upper, weight = np.array(rows).T
    return car, Spells.on_age(lower, upper, entry, weight), np.array(z)


def _row(random, car, life, entry):
    if life > entry + 7:
        return car, entry, entry + 7, INF, 1.0
    if random.random() < 1 / 3:
        look = entry + 2 * np.floor((life - entry) / 2)
        return car, entry, look, look + 2, 1.0
    return car, entry, life, life, 1.0


def covered(fleets, seed):
    """Shares of cars whose Z lies in, below and above the 80 % interval; mean of Z less the posterior mean, with its error."""
    random = np.random.default_rng(seed)
    inside, below, gaps = [], [], []
    for _ in range(fleets):
        car, spells, z = fleet(random)
        found = fit_with_cars(spells, car, PRIOR)
        for number in random.choice(CARS, ASKED, replace=False):
            one = found.multiplier(spells.take(car == number))
            inside.append(one.low <= z[number] <= one.high)
            below.append(z[number] < one.low)
            gaps.append(z[number] - one.mean)
    return np.mean(inside), np.mean(below), np.mean(gaps), np.std(gaps) / np.sqrt(len(gaps))


def test_multipliers_cover_the_truth():
    inside, below, gap, error = covered(3, seed=1)
    assert 0.65 < inside < 0.95  # 45 cars: two and a half standard errors of 80 % are 15 points
    assert 0 < below < 0.3
    assert abs(gap) < 4 * error


@pytest.mark.full
def test_multipliers_cover_the_truth_in_many_fleets():
    inside, below, gap, error = covered(120, seed=2)
    print(
        f"\n80 % interval of a car's multiplier: covers {inside:.1%}, {below:.1%} below; mean gap {gap:+.3f} (se {error:.3f})"
    )
    assert 0.77 < inside < 0.83
    assert 0.07 < below < 0.13
    assert abs(gap) < 4 * error
