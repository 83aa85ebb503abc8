"""Two clocks against an independent derivation: plain densities, another parametrisation, scipy's optimiser."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from planner import Spells, fit_life


def simulated(count, seed, *, entry=False, distance=(2.5, 80_000.0), age=(3.0, 12.0)):
    """Cars at their own steady rates; some parts seen only from some years on."""
    random = np.random.default_rng(seed)
    rate = np.exp(random.normal(np.log(6000), 0.7, count))
    draw = random.exponential(size=(2, count)) ** (1 / np.array([[distance[0]], [age[0]]]))
    life = np.minimum(draw[0] * distance[1] / rate, draw[1] * age[1])
    start = random.uniform(0, 5, count) * entry
    seen = life > start
    rate, life, start = rate[seen], life[seen], start[seen]
    stop = start + random.uniform(1, 12, len(life))
    end = np.minimum(life, stop)
    upper = np.where(life <= stop, end, np.inf)
    return Spells.on_both(rate * end, rate * upper, end, upper, rate * start, start, km_per_year=rate)


def independent_maximum(spells, near):
    """Rows one by one in km and years, over (B10 on each clock, characteristic slope), not over shape and scale."""
    entry, lower, upper = spells.km.entry, spells.km.lower, spells.km.upper
    a_entry, a_lower = spells.years.entry, spells.years.lower
    failed = np.isfinite(upper)

    def minus(z):
        laws = [(1 / s, t10 / (-np.log(0.9)) ** s) for t10, s in ((np.exp(z[0]), z[1]), (np.exp(z[2]), z[3]))]
        (bu, eu), (ba, ea) = laws
        if min(bu, ba) <= 0:
            return np.inf
        gone = (entry / eu) ** bu + (a_entry / ea) ** ba - (lower / eu) ** bu - (a_lower / ea) ** ba
        rate = spells.km_per_year[failed]
        hazard = rate * bu / eu * (lower[failed] / eu) ** (bu - 1) + ba / ea * (a_lower[failed] / ea) ** (
            ba - 1
        )
        return -(gone.sum() + np.log(hazard).sum())

    starts = [
        [np.log(near[0]), su, np.log(near[1]), sa] for su in (0.25, 0.5, 0.8) for sa in (0.25, 0.5, 0.8)
    ]
    rough = (minimize(minus, start, method="Nelder-Mead", options={"maxiter": 4000}) for start in starts)
    best = min((end for end in rough if end.x[[1, 3]].min() > 1 / 12), key=lambda end: end.fun)
    best = minimize(
        minus, best.x, method="Nelder-Mead", options={"xatol": 1e-11, "fatol": 1e-13, "maxiter": 20000}
    )
    return best.x, -best.fun


@pytest.mark.parametrize(
    ("count", "seed", "entry"), [(300, 1, False), (300, 2, True), (80, 5, False), (1500, 3, True)]
)
def test_estimate_and_likelihood_match(count, seed, entry):
    spells = simulated(count, seed, entry=entry)
    life = fit_life(spells)
    (log_km10, slope_km, log_yr10, slope_yr), value = independent_maximum(spells, (35_000, 5.5))
    assert life.log_likelihood == pytest.approx(value, rel=1e-9)
    assert life.distance.shape == pytest.approx(1 / slope_km, rel=1e-4)
    assert life.age.shape == pytest.approx(1 / slope_yr, rel=1e-4)
    wear = life.distance.scale * (-np.log(0.9)) ** (1 / life.distance.shape)
    ageing = life.age.scale * (-np.log(0.9)) ** (1 / life.age.shape)
    assert wear == pytest.approx(np.exp(log_km10), rel=1e-4)
    assert ageing == pytest.approx(np.exp(log_yr10), rel=1e-4)


def test_truth_is_found_with_many_cars():
    life = fit_life(simulated(20_000, 8, entry=True))
    truth = np.log([2.5, 80_000, 3.0, 12.0])
    spread = np.sqrt(np.diag(life.covariance))
    assert (np.abs(life.parameters - truth) < 3.5 * spread).all()
    assert (spread < 0.08).all()


def test_one_clock_fit_of_the_same_cars_is_wrong():
    # The years are charged to the kilometres: distance alone looks shorter-lived and less sharp than it is.
    spells = simulated(20_000, 8)
    alone = fit_life(spells.only("distance"))
    off = np.log([2.5, 80_000]) - alone.parameters
    assert (off > 8 * np.sqrt(np.diag(alone.covariance))).all()


def test_a_spike_at_the_largest_reading_is_passed_by():
    # The likelihood is unbounded where the largest km is an exact failure; the peak returned is the interior one.
    spells = simulated(300, 1)
    last = float(np.max(spells.km.lower)) * 1.2
    spiked = Spells.concat([spells, Spells.on_both([last], [last], [9.0], [9.0])])
    life = fit_life(spiked)
    assert life.distance.shape < 4
    (_, slope_km, _, slope_yr), value = independent_maximum(spiked, (35_000, 5.5))
    assert life.log_likelihood == pytest.approx(value, rel=1e-9)
    assert [life.distance.shape, life.age.shape] == pytest.approx([1 / slope_km, 1 / slope_yr], rel=1e-4)
