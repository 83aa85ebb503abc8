"""A part kind's page: the book's curve alone until there are records, then the records' own curve beside the model's."""

from xml.etree import ElementTree as ET

import numpy as np
import pytest

from api.bridge.learning.curves import KEY, curve_of, records_alone
from planner import Spells, survival_curve
from tests.api.history.making import car as new_car
from tests.api.history.making import fitment, odometer, removal

KIND = "damper"
LIVES = (9_000, 21_000, 34_000, -40_000, 47_000, -52_000, 61_000)


@pytest.fixture
def refitted(fleet, client):
    """A kind with seven histories on distance, from new, fitted."""
    for number, life in enumerate(LIVES):
        vehicle = new_car(client, name=f"car {number}", joined_on="2015-01-01")
        part = fitment(client, vehicle, KIND, "2015-06-01", 20_000)
        if life > 0:
            removal(client, part, "2021-06-01", "failed, confirmed", 20_000 + life)
        else:
            odometer(client, vehicle, "2021-06-01", 20_000 - life)
    answer = client.put(f"/v1/part-kinds/{KIND}/settings", json={"clocks": ["distance"], "prior": "book"})
    assert answer.status_code == 200, answer.text
    job = fleet.wait_for_job(client.post(f"/v1/part-kinds/{KIND}/refits").headers["Location"])
    assert job["state"] == "succeeded", job


def letters(keeper, path):
    root = ET.fromstring(keeper.http.get(path).raise_for_status().text)  # noqa: S314 - our own drawing
    return [e.text for e in root.iter() if e.tag.endswith("}text")]


def test_without_records_the_book_stands_alone_and_says_so(keeper):
    page = keeper.get("/pages/kinds/rotor_arm")
    assert "The curve is the book’s" in page.text
    assert "no part of this kind is on record here" in page.text
    assert "so no interval stands for it yet" in page.text
    assert "All book" in page.text
    assert not any("records alone" in text for text in letters(keeper, "/pages/kinds/rotor_arm/life.svg"))


def test_with_a_part_on_record_the_interval_stands(keeper, part):
    page = keeper.get("/pages/kinds/rotor_arm?per_year=900&unit=mi")
    assert "Renew at about" in page.text
    assert "mi or about" in page.text, "in the unit that was asked for"
    assert "within 5 % of the advice" in letters(
        keeper, "/pages/kinds/rotor_arm/cost.svg?per_year=900&unit=mi"
    )


def test_after_a_refit_the_records_own_curve_stands_beside_the_models(keeper, refitted):
    page = keeper.get(f"/pages/kinds/{KIND}")
    assert "The stepped curve is the records alone" in page.text
    assert "7 histories of this fleet, 5 failures among them" in page.text
    assert "Kaplan-Meier: the records alone" in letters(keeper, f"/pages/kinds/{KIND}/life.svg")
    alt = next(found["alt"] for tag, found in page.elements if tag == "img" and "life.svg" in found["src"])
    assert "(Kaplan-Meier)" in alt


def test_the_kept_curve_is_the_planners():
    km = [float(abs(life)) for life in LIVES]
    spells = Spells.on_distance(
        lower=km, upper=[k if life > 0 else np.inf for k, life in zip(km, LIVES, strict=True)]
    )
    kept, wanted = curve_of({KEY: records_alone(spells)}, "distance"), survival_curve(spells, level=0.8)
    assert kept.method == wanted.method == "Kaplan-Meier"
    assert kept.times == pytest.approx(wanted.times)
    assert kept.survival == pytest.approx(wanted.survival, abs=1e-5)
    assert kept.lower == pytest.approx(wanted.lower, abs=1e-5, nan_ok=True)
    assert kept.upper == pytest.approx(wanted.upper, abs=1e-5, nan_ok=True)
    assert not kept.masses, "the longest life failed: nothing is left"
    still_good = Spells.on_distance(lower=[1e4, 6e4], upper=[1e4, np.inf])
    assert curve_of({KEY: records_alone(still_good)}, "distance").masses[0].left == 6e4


def test_where_the_records_carry_no_curve_the_reason_is_kept():
    good = Spells.on_age(lower=[1.0, 2.0], upper=[np.inf, np.inf])
    assert curve_of({KEY: records_alone(good)}, "age") == "no part on record has failed yet"
    late = Spells.on_age(lower=[3.0, 2.0, 3.5], upper=[6.0, 4.0, 5.0], entry=[1.0, 0.0, 0.0])
    assert "do not go together" in curve_of({KEY: records_alone(late)}, "age")
    assert curve_of({KEY: records_alone(None)}, "age") is None
    assert curve_of({}, "age") is None, "a life from before curves were kept"


def test_a_long_curve_is_thinned_and_keeps_its_ends():
    years = np.linspace(1.0, 20.0, 3_000)
    kept = curve_of({KEY: records_alone(Spells.on_age(lower=years, upper=years))}, "age")
    assert len(kept.times) == 400
    assert (kept.times[0], kept.times[-1]) == (1.0, 20.0)


@pytest.mark.usefixtures("refitted")
def test_the_advice_stands_on_the_page_at_a_discount_rate_and_with_bad_new_parts_learnt(
    fleet, client, keeper
):
    assert client.get(f"/v1/part-kinds/{KIND}/life").json()["new_parts"] is not None
    plain = keeper.get(f"/pages/kinds/{KIND}").text
    assert "the interval on the present ones is not worked out yet" not in plain
    answer = client.patch("/v1/fleet", json={"discount_rate": 0.1}, headers={"If-Match": "*"})
    assert all(
        fleet.wait_for_job(job)["state"] == "succeeded" for job in answer.raise_for_status().json()["jobs"]
    )
    later = keeper.get(f"/pages/kinds/{KIND}").text
    assert "the interval on the present ones is not worked out yet" not in later
    assert "What a repair" in later or "A repair leaves about" in later
    cost = f"/pages/kinds/{KIND}/cost.svg"
    assert letters(keeper, cost) != []
    assert later != plain
