"""Invented fleets of one part kind with a known life: driven, renewed by a plan, sold, and written down as records."""

from datetime import date, timedelta

import numpy as np

from planner.history.odometer import OdometerTrack
from planner.history.part_history import PartHistory
from planner.history.records import Distance, Fitment, Removal, Vehicle

START, TODAY = date(2004, 1, 1), date(2026, 1, 1)


def day(years):
    return START + timedelta(days=round(365.25 * years))


def fleet(seed, *, cars=60, shape=(3.0, 2.5), scale=(25_000.0, 14.0), plan_years=None, sold=0.0, name="car"):
    """Histories of one part per car, each renewed when it fails or when the plan says so.

    Args:
        seed: of the random numbers.
        cars: how many; each joins within the first ten years, with a part some years old.
        shape, scale: Weibull laws of distance (km) and age (years).
        plan_years: renewed while good at about this age; None: run to failure.
        sold: chance per year that a car is sold.
        name: what the cars' names begin with.
    """
    random = np.random.default_rng([77, seed])
    found = []
    for number in range(cars):
        found += _car(f"{name} {number}", random, shape, scale, plan_years, sold)
    return found


def _car(name, random, shape, scale, plan_years, sold):
    rate = float(np.exp(random.normal(np.log(1_400.0), 0.9)))
    joined = float(random.uniform(0.0, 10.0))
    end = min((TODAY - START).days / 365.25, joined + (random.exponential(1.0 / sold) if sold else np.inf))
    vehicle = Vehicle(ref=name, name=name, joined_on=day(joined))
    read = np.arange(joined, end, 0.5)
    track = OdometerTrack.from_km(
        [day(t) for t in (*read, end)], [20_000.0 + rate * (t - joined) for t in (*read, end)]
    )
    fitted, histories, place = joined - float(random.uniform(0.0, 8.0)), [], 0
    while fitted < end:
        life = _life(random, rate, shape, scale)
        planned = plan_years * float(random.uniform(0.7, 1.3)) if plan_years else np.inf
        gone = fitted + min(life, planned)
        if gone > joined:  # what failed before the car joined was never seen
            removal = None
            if gone < end:
                reason = "failed, confirmed" if life <= planned else "preventive"
                removal = Removal(removed_on=day(gone), reason=reason, odometer=_shown(rate, gone, joined))
            part = Fitment(
                ref=f"{name}/{place}",
                kind="rotor_arm",
                fitted_on=day(fitted),
                odometer=_shown(rate, fitted, joined),
            )
            histories.append(PartHistory(vehicle, part, removal=removal, track=track))
            place += 1
        fitted = gone
    return histories


def _shown(rate, at, joined):
    return Distance(value=max(0.0, 20_000.0 + rate * (at - joined)), unit="km")


def _life(random, rate, shape, scale):
    """Years to failure from new at a steady yearly distance: the earlier of the two causes."""
    by_distance = scale[0] * random.weibull(shape[0]) / rate
    return float(min(by_distance, scale[1] * random.weibull(shape[1])))
