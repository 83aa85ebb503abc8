"""A published set of component lives, recorded as a fleet's histories over HTTP, gives the published Weibull fit."""

import math

import pytest

from planner.units import KM_PER_MILE
from tests.api.history.making import car, fitment, odometer, refit, removal, settle
from tests.api.part_kinds.published import DAMPERS, PUBLISHED

KIND = "damper"
FITTED, SEEN = "2015-06-01", "2021-06-01"


def record(client, lives, unit, start=0.0):
    """One car per life: fitted at `start` on the dial; failed and confirmed, or still good when last read."""
    for number, (distance, failed) in enumerate(lives):
        vehicle = car(client, name=f"car {number}", distance_unit=unit, built="2010", joined_on=FITTED)
        part = fitment(client, vehicle, KIND, FITTED, start, unit)
        if failed:
            removal(client, part, SEEN, "failed, confirmed", start + distance, unit)
        else:
            odometer(client, vehicle, SEEN, start + distance, unit)


@pytest.fixture
def by_distance_alone(fleet, client):
    settle(
        fleet, client.put(f"/v1/part-kinds/{KIND}/settings", json={"prior": "none", "clocks": ["distance"]})
    )


@pytest.mark.parametrize("known", PUBLISHED, ids=lambda known: known.name)
def test_the_published_fit_to_four_digits(fleet, client, by_distance_alone, known):
    record(client, known.lives, known.unit)
    job = refit(fleet, client, KIND)
    assert job["state"] == "succeeded", job
    assert job["result"]["left_out"] == 0

    life = client.get(f"/v1/part-kinds/{KIND}/life", params={"unit": known.unit}).json()
    failures = sum(failed for _, failed in known.lives)
    assert life["distance"]["shape"] == pytest.approx(known.shape, rel=5e-5)
    assert life["distance"]["scale"]["value"] == pytest.approx(known.scale, rel=5e-5)
    assert life["distance"]["scale"]["unit"] == known.unit
    per_km = failures * math.log(KM_PER_MILE) if known.unit == "mi" else 0.0
    assert life["log_likelihood"] == pytest.approx(known.log_likelihood - per_km, abs=5e-4)
    assert (life["source"], life["prior"], life["clocks"], life["age"]) == (
        "fitted",
        "none",
        ["distance"],
        None,
    )
    evidence = life["evidence"]
    assert (evidence["histories"], evidence["failures"], evidence["prior_share"]) == (
        len(known.lives),
        failures,
        0,
    )


def test_figures_are_differences_of_the_dial_whatever_it_showed_at_the_fitting(
    fleet, client, by_distance_alone
):
    record(client, DAMPERS.lives, "km", start=41_230.0)
    assert refit(fleet, client, KIND)["state"] == "succeeded"
    life = client.get(f"/v1/part-kinds/{KIND}/life").json()
    assert life["distance"]["shape"] == pytest.approx(DAMPERS.shape, rel=5e-5)
    assert life["distance"]["scale"]["value"] == pytest.approx(DAMPERS.scale, rel=5e-5)


def test_with_the_book_the_answer_is_another_one_and_says_so(fleet, client):
    """The same records under the book's prior: drawn towards it, on both clocks."""
    record(client, DAMPERS.lives, "km")
    assert refit(fleet, client, KIND)["state"] == "succeeded"
    life = client.get(f"/v1/part-kinds/{KIND}/life").json()
    assert life["prior"] == "book"
    assert life["clocks"] == ["distance", "age"]
    assert 0 < life["evidence"]["prior_share"] < 1
    assert life["distance"]["scale"]["value"] > 1.05 * DAMPERS.scale
