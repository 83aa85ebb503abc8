"""Cars that eat parts: closed forms of the gamma frailty, quadrature over Z, and simulated fleets."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import gamma

from planner import ClockPrior, LifePrior, Spells, fit_life, known_life
from planner.errors import InputError, SpellError
from planner.life.frailty import FrailRows, _frail_rows, car_multiplier, fit_with_cars
from planner.life.likelihood import Derivatives

INF = np.inf
WEAK = LifePrior(age=ClockPrior(4, 8, spread_scale=1.0, spread_shape=0.7))


def _three():
    entry, end = np.array([0.0, 2.0, 1.0]), np.array([3.0, 5.0, 6.0])
    return Spells.on_age(end, [3.0, 5.0, INF], entry), entry, end


def test_likelihood_is_the_average_over_z_among_those_that_reached_entry():
    # ∫ g(z)·Π(z·h)^d·e^(-zΛ(end)) dz / ∫ g(z)·e^(-zΛ(entry)) dz with g gamma(k, k): scipy's quadrature, one car of three parts.
    spells, entry, end = _three()
    k, shape, scale = 3.0, 2.0, 6.0
    rows = _frail_rows(spells, np.zeros(3), k)
    hazard = shape / scale * (end[:2] / scale) ** (shape - 1)
    ends, entries = ((t / scale) ** shape for t in (end, entry))
    law = gamma(k, scale=1 / k).pdf
    top = quad(lambda z: law(z) * z**2 * np.exp(-z * ends.sum()), 0, 40)[0] * hazard.prod()
    below = quad(lambda z: law(z) * np.exp(-z * entries.sum()), 0, 40)[0]
    assert rows.log_likelihood(np.log([[shape, scale]]))[0] == pytest.approx(np.log(top / below), abs=1e-7)


def test_derivatives_are_those_of_the_value():
    random = np.random.default_rng(1)
    entry = random.uniform(0, 4, 20)
    end = entry + random.uniform(0.5, 4, 20)
    upper = np.where(np.arange(20) % 2, end, INF)
    spells = Spells.on_both(end * 3000, upper * 3000, end, upper, entry * 3000, entry)
    rows = _frail_rows(spells, random.integers(0, 6, 20), 2.0)
    theta = np.array([0.6, 9.7, 1.1, 2.0])

    def at(t):
        out = Derivatives(4)
        rows.add_to(out, t)
        return out

    steps = 1e-5 * np.eye(4)
    assert at(theta).value == pytest.approx(rows.log_likelihood(theta[None, :])[0], rel=1e-12)
    slope = [(at(theta + h).value - at(theta - h).value) / 2e-5 for h in steps]
    curve = np.array([(at(theta + h).gradient - at(theta - h).gradient) / 2e-5 for h in steps])
    assert at(theta).gradient == pytest.approx(slope, rel=1e-6, abs=1e-6)
    assert at(theta).hessian == pytest.approx(curve, rel=1e-5, abs=1e-6)


def test_cars_that_are_alike_give_the_plain_likelihood():
    spells, _, _ = _three()
    rows = _frail_rows(spells, np.arange(3), 1e7)
    plain = fit_life(spells, WEAK)
    assert rows.log_likelihood(plain.parameters[None, :])[0] == pytest.approx(plain.log_likelihood, abs=1e-5)
    assert isinstance(rows, FrailRows)


def test_multiplier_is_k_plus_failures_over_k_plus_expected():
    spells, _, end = _three()
    found = car_multiplier(spells, known_life(age=(2.0, 6.0)), 3.0)
    expected = ((end / 6) ** 2).sum()
    assert found.expected == pytest.approx(expected)
    assert found.mean == pytest.approx((3 + 2) / (3 + expected))
    law = gamma(5, scale=1 / (3 + expected))
    assert (found.low, found.high) == pytest.approx((law.ppf(0.1), law.ppf(0.9)), rel=1e-4)


def test_words():
    spells = Spells.on_age([5.0, 5.0, 5.0], [5.0, 5.0, 5.0])
    scale = 5 / (1.4 / 3) ** 0.5
    assert car_multiplier(spells, known_life(age=(2.0, scale)), 1.3).words == (
        "×1.6, from 3 failures where 1.4 were expected"
    )


def _fleet(cars, k, seed):
    """Cars of gamma Z with two parts each; seen from 0-6 years of age for 6 years, and only if both parts lived so long."""
    random = np.random.default_rng(seed)
    rows = []
    number = 0
    while number < cars:
        z = random.gamma(k, 1 / k)
        life, entry = 8 * (random.exponential(1, 2) / z) ** (1 / 2.5), random.uniform(0, 6, 2)
        if (life > entry).all():
            end = np.minimum(life, entry + 6)
            upper = np.where(life < entry + 6, life, INF)
            rows += [(number, z, *row) for row in zip(entry, end, upper, strict=True)]
            number += 1
    return np.array(rows).T


def test_simulated_fleet_gives_its_life_and_its_spread_back():
    number, _, entry, lower, upper = _fleet(700, 2.0, seed=4)
    spells = Spells.on_age(lower, upper, entry)
    found = fit_with_cars(spells, number, WEAK)
    error = np.sqrt(np.diag(found.life.covariance))
    assert (np.abs(found.life.parameters - np.log([2.5, 8.0])) < 3.5 * error).all()
    assert 0.5 < found.spread < 0.95  # truth: 0.71
    plain = fit_life(spells, WEAK)
    assert plain.age.shape < found.life.age.shape - 0.2, (
        "without frailty the bad cars go first and wear looks weaker"
    )


def test_multipliers_counted_from_entry_are_biased():
    # MODEL: where observation required surviving to entry, Λ counts from new.
    number, z, entry, lower, upper = _fleet(1500, 2.0, seed=6)
    life = known_life(age=(2.5, 8.0))
    honest, wrong, truth = [], [], []
    for car in np.unique(number):
        own = number == car
        failures = np.isfinite(upper[own]).sum()
        spent = (lower[own] / 8) ** 2.5 - (entry[own] / 8) ** 2.5
        honest.append(car_multiplier(Spells.on_age(lower[own], upper[own], entry[own]), life, 2.0).mean)
        wrong.append((2 + failures) / (2 + spent.sum()))
        truth.append(z[own][0])
    spread = np.std(np.array(honest) - truth) / np.sqrt(len(truth))
    assert np.mean(honest) == pytest.approx(np.mean(truth), abs=4 * spread)
    assert np.mean(wrong) > np.mean(truth) + 4 * spread


@pytest.mark.parametrize(
    ("call", "error", "field"),
    [
        (lambda: fit_with_cars(Spells.on_age([1.0], [2.0]), [1], WEAK), SpellError, "spells"),
        (lambda: fit_with_cars(Spells.on_age([1.0], [1.0], weight=0.5), [1], WEAK), SpellError, "spells"),
        (lambda: fit_with_cars(Spells.on_age([1.0], [1.0]), [1, 2], WEAK), SpellError, "car"),
        (lambda: car_multiplier(Spells.on_age([1.0], [1.0]), known_life(age=(1, 2)), 0), InputError, "shape"),
        (
            lambda: car_multiplier(Spells.on_age([1.0], [1.0]), known_life(distance=(1, 2)), 1),
            InputError,
            "life",
        ),
    ],
)
def test_refusals_name_the_field(call, error, field):
    with pytest.raises(error) as refused:
        call()
    assert refused.value.field == field
