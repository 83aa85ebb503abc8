"""One fleet after another: what each way of planning costs beyond the best, and whether intervals hold the truth."""

from __future__ import annotations

import math
import time
from concurrent.futures import ProcessPoolExecutor
from typing import TYPE_CHECKING

import numpy as np

from planner import Costs, fit_life, known_life
from planner.interval.cost_rate import cost_curve
from planner.interval.optimum import Limits, choose
from planner.interval.path import path_hazard
from planner.interval.search import cheapest
from planner.life.life_point import log_years_at
from tests.planner.simulated.recovery_costs import FAILURE, PLANNED, TrueCost, asked_for
from tests.planner.simulated.recovery_reference import long_sample
from tests.planner.simulated.recovery_world import PRIOR, fleet, prior_off_by

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from planner import Life
    from tests.planner.simulated.recovery_world import Fleet

COSTS = Costs(planned=PLANNED, failure=FAILURE)
LEVEL = 0.90
WAYS = ("ours", "reference", "prior × 1.5", "prior / 1.5", "rule of thumb", "run to failure", "one clock")
SHOWN = ("shape km", "scale km", "shape years", "scale years", "B10")


def chosen_years(life: Life, km_per_year: float) -> float:
    """What best_interval chooses, without its words."""
    curve = cost_curve(path_hazard(life, km_per_year))
    return choose(curve, COSTS, Limits(), cheapest(curve, COSTS))[0]


def extra_costs(one: Fleet, life: Life, number: int, ways: Sequence[str]) -> list[float]:
    """Extra cost of each way of planning one fleet, as a share of the least cost there is."""
    years = {
        "ours": lambda: chosen_years(life, one.km_per_year),
        "reference": lambda: asked_for(long_sample(one.spells, life, number), one.km_per_year),
        "prior × 1.5": lambda: _with_another(one, 1.5, number),
        "prior / 1.5": lambda: _with_another(one, 1 / 1.5, number),
        "rule of thumb": lambda: 0.6 * min(PRIOR.distance.scale / one.km_per_year, PRIOR.age.scale),
        "run to failure": lambda: math.inf,
        "one clock": lambda: one_clock_years(one),
    }
    true = TrueCost(one.truth, one.km_per_year)
    return [true.beyond_best(years[way]()) for way in ways]


def holds_truth(one: Fleet, life: Life) -> list[float]:
    """Whether the 90 % interval of every parameter and of B10 holds the truth (1 or 0)."""
    tails = [(1 - LEVEL) / 2, (1 + LEVEL) / 2]
    low, high = np.quantile(life.draws, tails, axis=0, method="median_unbiased")
    held = ((low <= one.truth) & (one.truth <= high)).astype(float).tolist()
    b10 = life.life_at(0.10, km_per_year=one.km_per_year).with_interval(LEVEL)
    true = math.exp(log_years_at(one.truth[None, :], math.log(-math.log1p(-0.1)), one.km_per_year)[0])
    return [*held, float(b10[0].years <= true <= b10[1].years)]


def one_clock_years(one: Fleet) -> float:
    """A one-clock Weibull on km by lifelines and the cheapest interval under it; the rule of thumb where it fails."""
    from lifelines import WeibullFitter

    km = one.spells.only("distance").km
    try:
        fitted = WeibullFitter().fit(km.lower / 1e4, np.isfinite(km.upper), entry=km.entry / 1e4)
        life = known_life(distance=(fitted.rho_, fitted.lambda_ * 1e4))
    except (ValueError, ArithmeticError, np.linalg.LinAlgError):  # no convergence is a ValueError there
        return 0.6 * PRIOR.distance.scale / one.km_per_year
    return chosen_years(life, one.km_per_year)


def record(number: int, histories: int, ways: Sequence[str], costed: int, peers: int) -> list[float]:
    """Everything about one fleet: our cost, others' costs for the first ``costed`` (one clock: ``peers``), and what holds the truth."""
    one = fleet(number, histories)
    life = fit_life(one.spells, PRIOR, seed=number)
    first = {"ours": math.inf, "one clock": peers}
    here = [way for way in ways if number < first.get(way, costed)]
    paid = dict(zip(here, extra_costs(one, life, number, here), strict=True))
    return [*(paid.get(way, math.nan) for way in ways), *holds_truth(one, life)]


def run(
    each: Callable[[int], list[float]], count: int, names: Sequence[str], told: str
) -> dict[str, np.ndarray]:
    """All columns by name, each (count,), by two processes; figures so far are printed on the way."""
    rows: list[list[float]] = []
    began = time.monotonic()
    with ProcessPoolExecutor(2) as pool:
        for row in pool.map(each, range(count), chunksize=10):
            rows.append(row)
            if len(rows) % 250 == 0 or len(rows) == count:
                figures = said(rows, names)
                print(f"{told}: {len(rows)} in {time.monotonic() - began:.0f} s: {figures}", flush=True)
    return dict(zip(names, np.array(rows).T, strict=True))


def said(rows: Sequence[Sequence[float]], names: Sequence[str]) -> str:
    """Means in per cent with their standard errors."""
    columns = zip(names, np.array(rows).T, strict=True)
    return ", ".join(f"{n} {100 * m:.3f} ({100 * e:.3f})" for n, c in columns for m, e in [mean_of(c)])


def mean_of(column: np.ndarray) -> tuple[float, float]:
    """Mean and standard error of what is there."""
    there = column[~np.isnan(column)]
    return float(there.mean()), float(there.std(ddof=1) / math.sqrt(max(len(there), 1)))


def _with_another(one: Fleet, factor: float, number: int) -> float:
    return chosen_years(fit_life(one.spells, prior_off_by(factor), seed=number), one.km_per_year)
