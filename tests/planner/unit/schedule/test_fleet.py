"""Replanning a fleet gives each part what it would get alone."""

from datetime import date, timedelta

import numpy as np
import pytest

from planner.errors import UsageError
from planner.interval import Cap, Costs, interval_table
from planner.schedule import DECIDERS, Driven, Fitted, InService, due_dates, rate_on_own_path
from planner.schedule.fleet import replan
from tests.planner.unit.interval.test_best import uncertain_life
from tests.planner.unit.schedule.schedule_stand_ins import Days, Use

TODAY = date(2026, 3, 1)
CAP = Cap(km=150_000, years=20)
TABLE = interval_table(uncertain_life(), Costs(60, 340), cap=CAP)


def fleet(count, seed=0):
    rng = np.random.default_rng(seed)
    age, today = np.sort(rng.integers(0, 7_000, (3, count)), axis=0)[::-1], float(TODAY.toordinal())
    km = np.sort(rng.uniform(0, 90_000, (3, count)), axis=0)
    rate = np.exp(rng.normal(np.log(1_400), 0.9, count))
    parts = Fitted(
        today - age[0], today - age[1], today - age[2], *km, rng.random(count) < 0.2, by_distance=True, by_age=True
    )  # fmt: skip
    return parts, Driven(today, 90_000.0, rate, 0.6 * rate, 1.6 * rate)


def test_every_part_gets_what_it_would_get_alone():
    parts, use = fleet(400)
    found = replan(TABLE, parts, use, CAP)
    for i in range(400):
        days = [
            TODAY - timedelta(days=int(TODAY.toordinal() - day[i]))
            for day in (parts.early, parts.likely, parts.late)
        ]
        unknown = bool(parts.age_unknown[i])
        km = (parts.km_low[i], parts.km_likely[i], parts.km_high[i])
        rate = float(use.km_per_year[i])
        now = {
            "km": 90_000 - km[0 if unknown else 1],
            "years": (TODAY - days[0 if unknown else 1]).days / 365.25,
        }
        own = float(rate_on_own_path(TABLE, **now, km_per_year=rate))
        alone = due_dates(
            InService(Days(*days), unknown, km, ("distance", "age")),
            Use(rate, 0.6 * rate, 1.6 * rate, TODAY, 90_000.0),
            TABLE.at(own),
            CAP,
        )
        for name in ("earliest", "likely", "latest", "limit"):
            assert abs(getattr(found.days, name)[i] - getattr(alone, name).toordinal()) <= 1.001, name
        assert DECIDERS[found.days.decides[i]] == alone.decides
        assert found.years[i] == TABLE.at(own).years


def test_pieces_join_without_a_seam():
    parts, use = fleet(70_000)
    whole = replan(TABLE, parts, use, CAP)
    assert whole.days.likely.shape == whole.years.shape == (70_000,)
    for first in (0, 32_760, 69_990):
        at = slice(first, first + 10)
        some = Fitted(*(getattr(parts, n)[at] for n in ("early", "likely", "late", "km_low", "km_likely", "km_high")),
                      parts.age_unknown[at], by_distance=True, by_age=True)  # fmt: skip
        cut = Driven(use.as_of, use.km, use.km_per_year[at], use.low[at], use.high[at])
        assert np.array_equal(replan(TABLE, some, cut, CAP).days.likely, whole.days.likely[at])


def test_no_day_of_a_whole_fleet_is_past_its_cap():
    parts, use = fleet(20_000, seed=3)
    days = replan(TABLE, parts, use, CAP).days
    by_age = parts.early + 20 * 365.25
    left = 150_000 - (90_000 - parts.km_low)
    by_km = TODAY.toordinal() + left / use.high * 365.25
    for each in (days.earliest, days.likely, days.latest):
        assert np.all(each <= np.minimum(by_age, by_km) + 1e-6)
    assert np.all(days.earliest <= days.likely)
    assert np.all(days.likely <= days.latest)


def test_arrays_of_different_lengths_are_refused():
    parts, use = fleet(10)
    with pytest.raises(UsageError) as refused:
        replan(TABLE, parts, Driven(use.as_of, use.km, use.km_per_year[:4], use.low[:4], use.high[:4]), CAP)
    assert refused.value.field == "parts"
