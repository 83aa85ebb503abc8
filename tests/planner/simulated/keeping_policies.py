"""Ways of keeping: the library's plan, the rule of thumb, running to failure, one clock by lifelines, mixed practice."""

import warnings
from datetime import date, timedelta

import numpy as np
from lifelines import WeibullFitter

from planner import fit_life, known_life
from planner.history.odometer import OdometerTrack
from planner.interval import best_interval, book_cap, default_costs, interval_table
from planner.life.prior import book_prior
from planner.schedule import Driven, Fitted
from planner.schedule.fleet import replan
from planner.units import DAYS_PER_YEAR
from planner.usage import yearly_distance
from tests.planner.simulated.keeping_records import spells_of
from tests.planner.simulated.keeping_world import PAST, SEEN

DAY_ZERO = date(1996, 1, 1)
THUMB = 0.6
"""The rule of thumb renews at 60 % of the book's scale on each clock, whichever comes first."""

RATES = np.geomspace(200, 25_000, 8)


class AtLimits:
    """Renew at so many km or so many years, whichever comes first, and at hard caps; one pair per kind."""

    def __init__(self, kinds, limits):
        caps = [book_cap(kind) for kind in kinds]
        self.km = np.array([_least(limit[0], cap.km) for limit, cap in zip(limits, caps, strict=True)])
        self.years = np.array([_least(limit[1], cap.years) for limit, cap in zip(limits, caps, strict=True)])

    def due(self, world, position, fitted, now):  # noqa: ARG002 - limits from fitting don't depend on the day
        """The earlier of both clocks' limits on the car's own odometer."""
        kind = world.kind[position]
        by_km = world.time_at(position, world.odometer(position, fitted) + self.km[kind])
        return np.minimum(by_km, fitted + self.years[kind])


class Plan:
    """The library from end to end: life, interval table, yearly distance, due days dated anew each New Year."""

    def __init__(self, world, lives):
        self.tables = [
            interval_table(life, default_costs(kind), cap=book_cap(kind), max_risk=kind.max_risk, rates=RATES)
            for life, kind in zip(lives, world.kinds, strict=True)
        ]
        self.usage = [_usage(world, car) for car in range(len(world.cars))]

    def due(self, world, position, fitted, now):
        """The likely day of each part."""
        found = np.empty(len(position))
        for kind in np.unique(world.kind[position]):
            own = world.kind[position] == kind
            found[own] = self._due(world, int(kind), position[own], fitted[own], now[own])
        return found

    def _due(self, world, kind, position, fitted, now):
        day, km = _ordinal(fitted), world.odometer(position, fitted)
        rate, low, high = np.array([self.usage[car] for car in world.car[position]]).T
        clocks = world.kinds[kind].clocks
        parts = Fitted(
            day,
            day,
            day,
            km,
            km,
            km,
            age_unknown=False,
            by_distance="distance" in clocks,
            by_age="age" in clocks,
        )
        use = Driven(_ordinal(now), world.odometer(position, now), rate, low, high)
        days = replan(self.tables[kind], parts, use, book_cap(world.kinds[kind])).days
        return (days.likely - DAY_ZERO.toordinal()) / DAYS_PER_YEAR


class Mixed:
    """How cars were kept before: half of the parts by failure only, half renewed early, at anybody's guess."""

    def __init__(self, kinds, seed):
        self.thumb = rule_of_thumb(kinds)
        self.rng = np.random.default_rng([7, seed])
        self.fitted, self.stretch = None, None

    def due(self, world, position, fitted, now):
        """A stretch of the rule of thumb, drawn anew for every part and then kept."""
        if self.fitted is None:
            self.fitted, self.stretch = np.full(len(world.car), -1.0), np.empty(len(world.car))
        new = self.fitted[position] != fitted
        drawn = np.exp(0.2 + 0.5 * self.rng.standard_normal(len(position)))
        drawn[self.rng.random(len(position)) < 0.5] = np.inf
        self.stretch[position] = np.where(new, drawn, self.stretch[position])
        self.fitted[position] = fitted
        planned = self.thumb.due(world, position, fitted, now)
        return fitted + (planned - fitted) * self.stretch[position]


def rule_of_thumb(kinds):
    """60 % of the book's scale on each clock."""
    priors = [book_prior(kind) for kind in kinds]
    scales = [
        tuple(np.inf if clock is None else THUMB * clock.scale for clock in (prior.distance, prior.age))
        for prior in priors
    ]
    return AtLimits(kinds, scales)


def run_to_failure(kinds):
    """Renew what has failed, and keep the hard caps."""
    return AtLimits(kinds, [(np.inf, np.inf)] * len(kinds))


def plan_from_records(world, log, state, *, draws=120):
    """The plan that the records up to today lead to."""
    every = range(len(world.kinds))
    lives = [
        fit_life(spells_of(world, log, state, kind), book_prior(world.kinds[kind]), seed=kind, draws=draws)
        for kind in every
    ]
    return Plan(world, lives)


def plan_from_truth(world):
    """The same plan by somebody who knows the truth: as good as it gets."""
    return Plan(world, [known_life(distance=_known(km), age=_known(age)) for km, age in world.truth])


def one_clock(world, log, state):
    """(policy, kinds that could not be fitted): age replacement on km from a Weibull fit by lifelines.

    Where there is nothing to fit, the keeper goes by the rule of thumb.
    """
    thumb = rule_of_thumb(world.kinds)
    limits, unfitted = [], 0
    for kind, part in enumerate(world.kinds):
        km = _best_km(spells_of(world, log, state, kind, on_km=True), default_costs(part))
        unfitted += km is None
        limits.append((thumb.km[kind], thumb.years[kind]) if km is None else (km, np.inf))
    return AtLimits(world.kinds, limits), unfitted


def _best_km(spells, costs):
    km, failed = spells.km.lower, spells.exact
    if not failed.any():
        return None
    fitter = WeibullFitter()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what lifelines says of thin data is what this keeper does not read
        try:
            fitter.fit(km, failed, entry=spells.km.entry)
        except Exception:  # noqa: BLE001 - lifelines gives up in many ways; all mean that there is no fit
            return None
    life = known_life(distance=(float(fitter.rho_), float(fitter.lambda_)))
    return best_interval(life, costs, 10_000.0, plug_in=True).km


def _usage(world, car):
    """(likely, low, high) km a year from a reading each New Year since records began."""
    years = range(PAST - SEEN, PAST + 1)
    days = [DAY_ZERO + timedelta(days=round(year * DAYS_PER_YEAR)) for year in years]
    track = OdometerTrack.from_km(days, [float(world.before[car, year]) for year in years])
    usage = yearly_distance(track, days[-1])
    return usage.km_per_year, min(usage.low, usage.km_per_year), max(usage.high, usage.km_per_year)


def _ordinal(t):
    return DAY_ZERO.toordinal() + t * DAYS_PER_YEAR


def _known(clock):
    return None if np.isinf(clock[1]) else clock


def _least(limit, cap):
    return limit if cap is None else min(limit, cap)
