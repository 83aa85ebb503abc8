"""A fleet whose truth is known: cars, their parts, how long each would last, and how far each car goes."""

from dataclasses import dataclass

import numpy as np

from planner.catalogue import load_catalogue
from planner.catalogue.values import SYSTEMS
from planner.life.prior import book_prior

PAST, AHEAD = 30, 30
"""Years before the day on which keeping begins, and after it."""

SEEN = 12
"""Years before that day from which records are kept; older parts come under observation then."""

ALTERNATIVES = (
    ("v_belt", "ribbed_belt"),
    ("timing_belt", "timing_chain_guides"),
    ("timing_belt_tensioner", "timing_chain_guides"),
    ("fuel_pump_mech", "fuel_pump_electric"),
    ("fan_clutch", "fan_switch"),
    ("fuel_hose_lp", "fuel_hose_hp"),
)
"""Kinds of which a car has one or the other."""

ONCE_IN_A_CARS_LIFE = ("harness_degr", "harness_pvc")

_DRAWS_OF_A_POSITION = 256


@dataclass(frozen=True)
class Car:
    """One car: how it is fired and fed, and its mean yearly distance in km."""

    system: str
    km_per_year: float


def fleet():
    """24 cars: sixteen driven as surveys say of historic cars (lognormal, median 1,400 km), eight used daily."""
    ranks = (np.arange(16) + 0.5) / 16
    normal = np.sort(np.random.default_rng(0).standard_normal(200_001))
    rare = 1_400 * np.exp(0.9 * normal[(ranks * 200_001).astype(int)])
    rates = [*rare, *np.geomspace(6_000, 20_000, 8)]
    return [Car(SYSTEMS[place % 3], float(rate)) for place, rate in enumerate(rates)]


def stopping_kinds(count=40):
    """The kinds that stop cars most often if run to failure at 3,000 km a year, by the book's own lives."""
    years = np.linspace(0.0, 200.0, 4_001)

    def stops_per_year(kind):
        prior, wear = book_prior(kind), np.zeros_like(years)
        for clock, at in ((prior.distance, 3_000 * years), (prior.age, years)):
            wear += 0.0 if clock is None else (at / clock.scale) ** clock.shape
        return kind.stops_car / np.trapezoid(np.exp(-wear), years)

    kinds = [kind for kind in load_catalogue().values() if kind.id not in ONCE_IN_A_CARS_LIFE]
    return sorted(kinds, key=stops_per_year, reverse=True)[:count]


def on_car(car, place, names):
    """Which of the kinds a car has: those of its system, and one of each pair of alternatives."""
    catalogue = load_catalogue()
    found = [name for name in names if catalogue[name].fits(car.system)]
    for turn, pair in enumerate(ALTERNATIVES):
        if pair[0] in found and pair[1] in found:
            first = place // 3 % 2 == 0 if turn != 3 else car.system == "points"
            found.remove(pair[1] if first else pair[0])
    return found


@dataclass(frozen=True, eq=False)
class World:
    """The truth of one replication; positions are the parts of all cars side by side.

    Attributes:
        cars: the fleet.
        kinds: the part kinds.
        car, kind: index of each position's car and kind.
        truth: per kind (shape, scale) of distance and of age; None for a clock that it does not run on.
        shape, scale: the same per position, shape (2, positions); scale infinite where there is no clock.
        yearly: km of each car in each year, shape (cars, PAST + AHEAD).
        before: km of each car at the start of each year.
        strength: cumulative hazard at which the position's first, second … part fails; 0 for one bad from the shelf.
    """

    cars: list
    kinds: list
    car: np.ndarray
    kind: np.ndarray
    truth: list
    shape: np.ndarray
    scale: np.ndarray
    yearly: np.ndarray
    before: np.ndarray
    strength: np.ndarray

    def odometer(self, position, t):
        """Km of the car on which a position is, at a time in years from the start of the world."""
        car, year = self.car[position], np.clip(t.astype(int), 0, self.yearly.shape[1] - 1)
        return self.before[car, year] + (t - year) * self.yearly[car, year]

    def time_at(self, position, km):
        """The time at which the car reaches a distance."""
        found = np.full(len(position), np.inf)
        for car in np.unique(self.car[position]):
            own = self.car[position] == car
            ends = np.append(self.before[car], self.before[car, -1] + self.yearly[car, -1])
            found[own] = np.interp(km[own], ends, np.arange(len(ends), dtype=float), right=np.inf)
        return found

    def wear(self, position, fitted, t):
        """Cumulative hazard that the part of a position has used between its fitting and a time."""
        ran = self.odometer(position, t) - self.odometer(position, fitted)
        shape, scale = self.shape[:, position], self.scale[:, position]
        return (ran / scale[0]) ** shape[0] + ((t - fitted) / scale[1]) ** shape[1]

    def fails_at(self, position, fitted, number):
        """When parts fail that were fitted at a time, each the so-manyth of its position; infinite after the end."""
        strength = self.strength[position, number % _DRAWS_OF_A_POSITION]
        low, high = fitted.copy(), np.full(len(fitted), float(self.yearly.shape[1]))
        lasts = self.wear(position, fitted, high) < strength
        for _ in range(40):
            middle = (low + high) / 2
            worn = self.wear(position, fitted, middle) >= strength
            low, high = np.where(worn, low, middle), np.where(worn, middle, high)
        return np.where(strength == 0, fitted, np.where(lasts, np.inf, high))


def draw_world(number, kinds=None, cars=None, years=PAST + AHEAD, scatter=0.3):
    """World `number`, always the same: truth from the book's prior, distances with scatter from year to year."""
    rng = np.random.default_rng([20_260_101, number])
    cars, kinds = cars or fleet(), kinds or stopping_kinds()
    priors = [book_prior(kind) for kind in kinds]
    truth = [_drawn(prior, rng) for prior in priors]
    names = [kind.id for kind in kinds]
    pairs = [
        (place, names.index(name)) for place, car in enumerate(cars) for name in on_car(car, place, names)
    ]
    car, kind = np.array(pairs).T
    shape = np.array([[truth[k][clock][0] for k in kind] for clock in (0, 1)])
    scale = np.array([[truth[k][clock][1] for k in kind] for clock in (0, 1)])
    noise = np.exp(scatter * rng.standard_normal((len(cars), years)) - scatter**2 / 2)
    yearly = np.array([each.km_per_year for each in cars])[:, None] * noise
    before = np.cumsum(yearly, axis=1) - yearly
    size = (len(pairs), _DRAWS_OF_A_POSITION)
    bad = rng.random(size) < np.array([kinds[k].new_part_fault for k in kind])[:, None]
    strength = np.where(bad, 0.0, rng.exponential(size=size))
    return World(cars, kinds, car, kind, truth, shape, scale, yearly, before, strength)


def _drawn(prior, rng):
    values = np.exp(prior.mean + prior.spread * rng.standard_normal(len(prior.mean)))
    clocks = dict(zip(prior.clocks, values.reshape(-1, 2), strict=True))
    return [tuple(clocks.get(name, (1.0, np.inf))) for name in ("distance", "age")]
