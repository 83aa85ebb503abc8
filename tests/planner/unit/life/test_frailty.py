"""Cars that eat parts: closed forms of the gamma frailty, quadrature over Z, and simulated fleets."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import gamma

from planner import ClockPrior, LifePrior, Spells, fit_life, known_life
from planner.errors import InputError, PriorError, SpellError
from planner.life.cars.frail_rows import FrailRows, frail_rows
from planner.life.cars.frailty import car_multiplier, fit_with_cars, life_on_car
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
    rows = frail_rows(spells, np.zeros(3), k)
    hazard = shape / scale * (end[:2] / scale) ** (shape - 1)
    ends, entries = ((t / scale) ** shape for t in (end, entry))
    law = gamma(k, scale=1 / k).pdf
    top = quad(lambda z: law(z) * z**2 * np.exp(-z * ends.sum()), 0, 40)[0] * hazard.prod()
    below = quad(lambda z: law(z) * np.exp(-z * entries.sum()), 0, 40)[0]
    assert rows.log_likelihood(np.log([[shape, scale]]))[0] == pytest.approx(np.log(top / below), abs=1e-7)


def _mixed():
    """One car: an exact failure, one still good, one found bad between two looks, one bad at the first look; weights of all sorts."""
    entry, lower = np.array([0.0, 2.0, 1.0, 0.0]), np.array([3.0, 5.0, 4.0, 0.0])
    upper, weight = np.array([3.0, INF, 6.5, 2.5]), np.array([1.0, 0.4, 1.0, 0.6])
    return Spells.on_age(lower, upper, entry, weight), entry, lower, upper, weight


def _cut(law, k, z, shape, scale):
    """Likelihood of :func:`_mixed` at Z = z from new, by hand, times the law of Z."""
    _, _, lower, upper, weight = _mixed()
    at = lambda t: (t / scale) ** shape  # noqa: E731 - a formula
    rate = z * shape / scale * (3.0 / scale) ** (shape - 1)
    each = [rate * np.exp(-z * at(3.0)), np.exp(-z * at(5.0))]
    each += [np.exp(-z * at(lo)) - np.exp(-z * at(up)) for lo, up in zip(lower[2:], upper[2:], strict=True)]
    return law(z, k) * np.prod(np.array(each) ** weight)


def _law(z, k):
    return gamma.pdf(z, k, scale=1 / k)


@pytest.mark.parametrize("k", [0.5, 3.0, 60.0])
@pytest.mark.parametrize("selected", [True, False])
def test_intervals_and_weights_are_averaged_over_z(k, selected):
    # scipy's quadrature over z of the product written out row by row.
    shape, scale = 2.0, 6.0
    spells, entry, _, _, weight = _mixed()
    rows = frail_rows(spells, np.zeros(4), k, selected=selected)
    top = quad(lambda z: _cut(_law, k, z, shape, scale), 0, 60, points=[0.01, 0.3, 1, 3], limit=400)[0]
    spent = weight @ (entry / scale) ** shape
    there = quad(lambda z: _law(z, k) * np.exp(-z * spent), 0, 60, points=[0.01, 0.3, 1, 3], limit=400)[0]
    wanted = np.log(top) - (np.log(there) if selected else 0.0)
    assert rows.log_likelihood(np.log([[shape, scale]]))[0] == pytest.approx(wanted, abs=2e-6)
    assert rows.failed(np.zeros(2)) == pytest.approx(2.6)


def test_multiplier_with_intervals_is_the_posterior_of_z():
    k, shape, scale = 2.0, 2.0, 6.0
    found = car_multiplier(_mixed()[0], known_life(age=(shape, scale)), k)
    total = quad(lambda z: _cut(_law, k, z, shape, scale), 0, 60)[0]
    mean = quad(lambda z: z * _cut(_law, k, z, shape, scale), 0, 60)[0] / total
    assert found.mean == pytest.approx(mean, rel=1e-5)
    for p, z in ((0.1, found.low), (0.9, found.high)):
        assert quad(lambda y: _cut(_law, k, y, shape, scale), 0, z)[0] / total == pytest.approx(p, abs=2e-4)


def test_a_gap_that_closes_counts_as_a_failure():
    # Quadrature against the closed form (k + d)/(k + ΣΛ): a look every day is as good as the day itself.
    life = known_life(age=(2.0, 6.0))
    day = 1 / 365.25
    looks = Spells.on_age([3.0 - day, 5.0], [3.0, INF])
    closed = car_multiplier(Spells.on_age([3.0, 5.0], [3.0, INF]), life, 2.0)
    found = car_multiplier(looks, life, 2.0)
    assert (found.mean, found.low, found.high) == pytest.approx(
        (closed.mean, closed.low, closed.high), rel=2e-4
    )
    assert found.expected == pytest.approx(closed.expected, rel=1e-3)
    assert found.failures == 1


def test_weights_are_rows_written_twice():
    life = known_life(age=(2.0, 6.0))
    twice = Spells.on_age([3.0, 3.0, 4.0, 4.0], [3.0, 3.0, 6.0, 6.0])
    weighed = Spells.on_age([3.0, 4.0], [3.0, 6.0], weight=2)
    assert car_multiplier(weighed, life, 2.0).mean == pytest.approx(car_multiplier(twice, life, 2.0).mean)


def test_shapes_are_averaged_over():
    spells, _, _ = _three()
    life = fit_life(spells, WEAK, draws=50)
    shapes = np.where(np.arange(50) % 2, 2.0, 8.0)
    each = [
        car_multiplier(spells, known_life(age=np.exp(t)), k).mean
        for t, k in zip(life.draws, shapes, strict=True)
    ]
    assert car_multiplier(spells, life, shapes).mean == pytest.approx(np.mean(each))


def test_life_on_a_car_is_the_life_at_its_own_z():
    # Averaged over Z ~ gamma(k, k), survival of an unseen car's part is (k/(k + Λ))^k: closed form, Vaupel et al. 1979.
    life = known_life(age=(2.0, 6.0))
    many = replace(life, draws=np.repeat(life.draws, 4000, axis=0))
    unseen = life_on_car(None, many, 2.0)
    survival = np.exp(-unseen.cumulative_hazard_draws(years=7.0)).mean()
    assert survival == pytest.approx((2 / (2 + (7 / 6) ** 2)) ** 2, abs=0.02)
    own = life_on_car(_mixed()[0], many, 2.0, seed=3)
    multiplier = car_multiplier(_mixed()[0], life, 2.0)
    z = own.cumulative_hazard_draws(years=6.0)
    assert z.mean() == pytest.approx(multiplier.mean, rel=0.03)
    assert np.quantile(z, [0.1, 0.9]) == pytest.approx([multiplier.low, multiplier.high], rel=0.06)
    assert float(own.cumulative_hazard(years=6.0)) == pytest.approx(multiplier.mean, rel=1e-6)


@pytest.mark.parametrize("selected", [True, False])
def test_derivatives_are_those_of_the_value(selected):
    random = np.random.default_rng(1)
    entry = random.uniform(0, 4, 30)
    end = entry + random.uniform(0.5, 4, 30)
    upper = np.array([end, np.full(30, INF), end + random.uniform(0.2, 3, 30)])[
        np.arange(30) % 3, np.arange(30)
    ]
    spells = Spells.on_both(
        end * 3000, upper * 3000, end, upper, entry * 3000, entry, random.uniform(0.3, 2, 30)
    )
    rows = frail_rows(spells, random.integers(0, 6, 30), 2.0, selected=selected)
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
    rows = frail_rows(spells, np.arange(3), 1e7)
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
    found = car_multiplier(spells, known_life(age=(2.0, scale)), 1.3)
    assert found.words == "×1.6, from 3 failures where 1.4 were expected"
    assert found.range_words == "×0.7 to ×2.6 in four cases of five"  # gamma(4.3) over 2.7, scipy


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
    # Cars with three parts, seen only where all three lived to the day the records begin; those with a failure since then.
    # Truth 0.92: Λ from new finds it. Λ from entry says 1.05, a clock started at entry 1.39.
    random = np.random.default_rng(6)
    k, beta = 3.0, 2.5
    z = random.gamma(k, 1 / k, 60_000)
    life = (random.exponential(1, (len(z), 3)) / z[:, None]) ** (1 / beta)
    entry = random.uniform(0, 1, life.shape)
    end = np.minimum(life, entry + 0.5)
    chosen = (life > entry).all(axis=1) & (life < entry + 0.5).any(axis=1)
    z, life, entry, end = z[chosen], life[chosen], entry[chosen], end[chosen]
    count = k + (life == end).sum(axis=1)
    from_new = count / (k + (end**beta).sum(axis=1))
    from_entry = count / (k + (end**beta - entry**beta).sum(axis=1))
    started_at_entry = count / (k + ((end - entry) ** beta).sum(axis=1))
    assert z.mean() == pytest.approx(0.92, abs=0.01)
    assert from_new.mean() == pytest.approx(z.mean(), abs=0.01)
    assert from_entry.mean() > z.mean() + 0.1
    assert started_at_entry.mean() > z.mean() + 0.4
    one = Spells.on_age(end[0], np.where(life[0] == end[0], end[0], INF), entry[0])
    assert car_multiplier(one, known_life(age=(beta, 1.0)), k).mean == pytest.approx(from_new[0])


def test_parts_that_died_unseen_must_be_told():
    # Cars that are in the records anyway. A part dead before they begin is a row bad at the first look; left out, bad cars look sound.
    random = np.random.default_rng(8)
    z = np.repeat(random.gamma(2.0, 0.5, 250), 3)
    life = 8 * (random.exponential(1, len(z)) / z) ** (1 / 2.5)
    start = random.uniform(2, 6, len(z))
    dead = life <= start
    stop = start + 5
    lower = np.where(dead, 0.0, np.minimum(life, stop))
    upper = np.where(dead, start, np.where(life <= stop, life, INF))
    car = np.repeat(np.arange(250), 3)
    told = fit_with_cars(Spells.on_age(lower, upper), car, WEAK, selected=False)
    error = np.sqrt(np.diag(told.life.covariance))
    assert (np.abs(told.life.parameters - np.log([2.5, 8.0])) < 3.5 * error).all()
    assert 0.5 < told.spread < 0.95  # truth: 0.71
    seen = ~dead
    left_out = fit_with_cars(Spells.on_age(lower[seen], upper[seen], start[seen]), car[seen], WEAK)
    truth, wrong, right = [], [], []
    for number in np.flatnonzero(np.bincount(car, dead) == 2)[:25]:
        own = car == number
        right.append(told.multiplier(Spells.on_age(lower[own], upper[own])).mean)
        own &= seen
        truth.append(z[own][0])
        wrong.append(left_out.multiplier(Spells.on_age(lower[own], upper[own], start[own])).mean)
    error = np.std(np.array(right) - truth) / len(truth) ** 0.5
    assert np.mean(right) == pytest.approx(np.mean(truth), abs=3.5 * error)
    assert np.mean(wrong) < np.mean(truth) - 3.5 * error


TWO = Spells.on_age([1.0, 2.0], [1.0, np.inf])


def test_cars_of_any_names_serve():
    fits = [
        fit_with_cars(TWO, cars, WEAK, draws=20) for cars in ([7, "a"], np.array(["x", "y"]), ((1, 2), 3))
    ]
    assert len({fit.spread for fit in fits}) == 1


@pytest.mark.parametrize(
    ("call", "error", "field"),
    [
        (lambda: fit_with_cars(None, [1], WEAK), SpellError, "spells"),
        (lambda: car_multiplier(None, known_life(age=(1, 2)), 1), SpellError, "spells"),
        (lambda: car_multiplier(TWO, known_life(age=(1, 2)), [1, 2]), InputError, "shape"),
        (lambda: fit_with_cars(Spells.on_age([1.0], [1.0]), [1, 2], WEAK), SpellError, "car"),
        (lambda: fit_with_cars(TWO, [1, 2], None), PriorError, "prior"),
        (lambda: fit_with_cars(TWO, [1, 2], WEAK, draws=0), InputError, "draws"),
        (lambda: fit_with_cars(TWO, [1, 2], WEAK, seed="a"), InputError, "seed"),
        (lambda: fit_with_cars(TWO, [np.nan, np.nan], WEAK), SpellError, "car"),
        (lambda: fit_with_cars(TWO, [None, "a"], WEAK), SpellError, "car"),
        (lambda: fit_with_cars(TWO, 7, WEAK), SpellError, "car"),
        (lambda: fit_with_cars(TWO, [["a"], "b"], WEAK), SpellError, "car"),
        (lambda: car_multiplier(TWO, known_life(age=(1, 2)), "a"), InputError, "shape"),
        (lambda: car_multiplier(Spells.on_age([1.0], [1.0]), known_life(age=(1, 2)), 0), InputError, "shape"),
        (lambda: car_multiplier(TWO, known_life(distance=(1, 2)), 1), InputError, "life"),
    ],
)
def test_refusals_name_the_field(call, error, field):
    with pytest.raises(error) as refused:
        call()
    assert refused.value.field == field
