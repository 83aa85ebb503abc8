"""A suspect's hazard counts its clocks as forecasts do: less what cleaning took off before the car last ran well, nothing that
came after. Expected figures are worked out here from the book's life, by weights instead of by drawing again."""

from datetime import date, timedelta

import numpy as np
import pytest

from api.bridge.in_force import models
from planner.catalogue import load_catalogue
from planner.life.repair_shares import expected_share
from tests.api.faults.cases import TODAY, WELL, opened, suspect, years_ago
from tests.api.history.making import car, fitment, made, odometer

KM_PER_YEAR = 15_000
FITTED, CLEANED = 6.0, 2.0


def cleaned(client, part, day):
    made(client.post(f"/v1/fitments/{part}/repairs", json={"repaired_on": day, "action": "cleaned"}))


def by_hand(km_off):
    """Mean weight e^L - 1 of the cap over the book's draws, each weighed by its survival to the day the car last ran well."""
    life = models.book_of("distributor_cap").life
    well = date.fromisoformat(WELL)
    fitted = date.fromisoformat(years_ago(FITTED))
    years = np.array([(well - fitted).days, (TODAY - fitted).days]) / 365.25
    km = np.maximum(years * KM_PER_YEAR - km_off, 0.0)
    then, now = (
        life.cumulative_hazard_draws(km=float(k), years=float(y)) for k, y in zip(km, years, strict=True)
    )
    return float(np.average(np.expm1(now - then), weights=np.exp(-then)))


@pytest.mark.parametrize("day", ["before", "after"])
def test_a_cleaning_takes_wear_off_a_suspect_unless_it_came_after_the_fault(client, day):
    vehicle = car(client, system="points", built="2010", joined_on="2011-01-01")
    for year in (2011, TODAY.year):  # distance does most of the wearing
        odometer(client, vehicle, f"{year}-01-01", 10_000 + KM_PER_YEAR * (year - 2011))
    cap = fitment(client, vehicle, "distributor_cap", years_ago(FITTED))
    never = suspect(opened(client, vehicle), cap)["car_ratio"]
    since_well = (date.fromisoformat(WELL) + timedelta(days=20)).isoformat()
    cleaned(client, cap, years_ago(CLEANED) if day == "before" else since_well)
    ratio = suspect(opened(client, vehicle), cap)["car_ratio"]
    assert not load_catalogue()["distributor_cap"].safety
    if day == "after":
        assert ratio == never
        return
    off = (1.0 - expected_share().mean) * (FITTED - CLEANED) * KM_PER_YEAR
    # both figures are given to two significant figures, and drawing again from 400 adds a few per cent
    assert ratio / never == pytest.approx(by_hand(off) / by_hand(0.0), rel=0.06)
    assert ratio < never
