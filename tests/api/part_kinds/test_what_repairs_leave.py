"""What repairs leave of the wear: the book's share for a part repaired first, learnt at a refit, shown, and counted in dates."""

import pytest

from api.bridge.words import significant
from planner.life.repair_shares import expected_share
from tests.api.history.making import car, fitment, made, odometer, refit, removal, settle

KIND = "contact_points"
LIFE = f"/v1/part-kinds/{KIND}/life"
AS_OF = {"as_of": "2025-01-01", "horizon_years": 10}


def shown(year):
    """What the dial showed on new year's day: 4,000 km a year."""
    return 4_000 * (year - 1999)


def driven(client, name):
    vehicle = car(client, name=name, built="1999", joined_on="2000-01-01")
    for year in range(2000, 2026, 5):
        odometer(client, vehicle, f"{year}-01-01", shown(year))
    return vehicle


def repaired(client, part, year, action="cleaned"):
    body = {"repaired_on": f"{year}-01-01", "action": action}
    return made(client.post(f"/v1/fitments/{part}/repairs", json=body))


def only(client, vehicle):
    (item,) = client.get(f"/v1/vehicles/{vehicle}/schedule", params=AS_OF).json()["items"]
    return item


def test_by_the_book_a_cleaning_puts_the_day_off_and_re_gapping_does_not(client):
    vehicle = driven(client, "cleaned")
    part = fitment(client, vehicle, KIND, "2023-01-01", shown(2023))
    before = only(client, vehicle)
    assert before["decides"] == "distance"
    repaired(client, part, 2024, "re-gapped")
    assert only(client, vehicle)["window"] == before["window"]
    cleaning = repaired(client, part, 2025)
    after = only(client, vehicle)
    assert after["window"]["earliest"] >= before["window"]["earliest"]
    assert after["window"]["likely"] > before["window"]["likely"]
    assert after["clocks"] == before["clocks"]  # it is as old as it was
    assert after["interval"] == before["interval"]
    # 8,000 km, of which the book (2 / (2 + 1.35) = 0.597) leaves six tenths: 3,200 km off
    assert "Repairs are taken to have made it about 3,200 km less worn" in after["reason"]
    life = client.get(LIFE).json()["repairs"]
    assert life["learnt"] == []
    assert life["expected"]["mean"] == pytest.approx(2 / 3.35, abs=1e-3)  # the trade notes' Beta prior
    assert life["words"].endswith("all book, as none is on record in this fit.")
    assert client.delete(f"/v1/fitments/{part}/repairs/{cleaning['id']}").status_code == 204
    assert only(client, vehicle)["window"] == before["window"]


def test_a_refit_learns_the_share_and_the_dates_of_repaired_parts_go_by_it(fleet, client):
    """Points that fail at 12,000 km whether they were cleaned or not: a share near 1 must come out, and days come nearer."""
    settle(fleet, client.put(f"/v1/part-kinds/{KIND}/settings", json={"clocks": ["distance"]}))
    waiting = driven(client, "waiting")
    fitment(client, waiting, KIND, "2023-01-01", shown(2023))
    part = client.get(f"/v1/vehicles/{waiting}/schedule", params=AS_OF).json()["items"][0]["fitment_id"]
    repaired(client, part, 2025)
    by_book = only(client, waiting)
    for number in range(8):
        vehicle = driven(client, f"number {number}")
        part = fitment(client, vehicle, KIND, "2010-01-01", shown(2010))
        for year in (2011, 2012):
            repaired(client, part, year)
        removal(client, part, "2013-01-01", "failed, confirmed", shown(2013))
        for first in range(2013, 2022, 3):
            other = fitment(client, vehicle, KIND, f"{first}-01-01", shown(first))
            removal(client, other, f"{first + 3}-01-01", "failed, confirmed", shown(first + 3))
    job = refit(fleet, client, KIND)
    assert job["state"] == "succeeded", job
    repairs = client.get(LIFE).json()["repairs"]
    (learnt,) = repairs["learnt"]
    assert (learnt["action"], learnt["repairs"]) == ("cleaned", 17)
    assert learnt["mean"] > expected_share().mean + 0.1
    assert learnt["low"] < learnt["mean"] < learnt["high"]
    assert learnt["prior_share"] < 0.9
    assert f"cleaned: about {5 * round(20 * learnt['mean'])} %" in repairs["words"]
    after = only(client, waiting)
    off = significant(8_000 * (1 - learnt["mean"]))
    assert f"about {off:,.0f} km less worn" in after["reason"]
    assert by_book["window"]["likely"] != after["window"]["likely"]
    again = refit(fleet, client, KIND)["result"]
    assert again["changed"] is False


def test_without_the_book_repairs_set_nothing_back(fleet, client):
    vehicle = driven(client, "cleaned")
    part = fitment(client, vehicle, KIND, "2023-01-01", shown(2023))
    for first, last in ((2010, 2014), (2014, 2020)):
        other = fitment(client, driven(client, f"to {last}"), KIND, f"{first}-01-01", shown(first))
        removal(client, other, f"{last}-01-01", "failed, confirmed", shown(last))
    settings = {"prior": "none", "clocks": ["distance"]}
    settle(fleet, client.put(f"/v1/part-kinds/{KIND}/settings", json=settings))
    assert refit(fleet, client, KIND)["state"] == "succeeded"
    before = only(client, vehicle)
    repaired(client, part, 2025)
    assert only(client, vehicle)["window"] == before["window"]
    assert client.get(LIFE).json()["repairs"] is None


def test_no_repair_puts_off_a_safety_part(client):
    vehicle = driven(client, "braked")
    part = fitment(client, vehicle, "brake_pads", "2023-01-01", shown(2023))
    before = only(client, vehicle)
    repaired(client, part, 2025)
    assert only(client, vehicle) == before
    words = client.get("/v1/part-kinds/brake_pads/life").json()["repairs"]["words"]
    assert words.endswith("This is a safety part: no date of it counts on a repair.")
