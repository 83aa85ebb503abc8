"""Refits: what they give, what they leave alone, and why they refuse."""

from html import unescape

import pytest

from planner.catalogue import load_catalogue
from tests.api.history.making import car, fitment, items, odometer, problem, refit, removal, settle
from tests.api.pages.visiting import Visitor

KIND = "damper"
LIFE = f"/v1/part-kinds/{KIND}/life"
SETTINGS = f"/v1/part-kinds/{KIND}/settings"


def record(client, *lives, start=20_000):
    """One car per life in km; negative: still good at that distance."""
    for number, life in enumerate(lives):
        vehicle = car(client, name=f"car {number}", joined_on="2015-01-01")
        part = fitment(client, vehicle, KIND, "2015-06-01", start)
        if life > 0:
            removal(client, part, "2021-06-01", "failed, confirmed", start + life)
        else:
            odometer(client, vehicle, "2021-06-01", start - life)


def test_before_any_part_the_book_speaks(client):
    life = client.get(LIFE).json()
    assert (life["id"], life["source"], life["prior"]) == (None, "book", "book")
    assert life["evidence"]["prior_share"] == 1
    assert life["log_likelihood"] is None
    book = load_catalogue()[KIND].distance
    assert life["distance"]["scale"]["value"] > book.p50


def test_the_first_part_puts_the_books_life_in_force(client):
    fitment(client, car(client), KIND, "2015-06-01")
    life = client.get(LIFE).json()
    assert life["id"] is not None
    assert life["source"] == "book"


def test_no_failures_and_no_prior_are_refused_in_the_planners_words_and_the_life_before_stays(fleet, client):
    record(client, -20_000, -30_000)
    before = client.get(LIFE).json()
    settle(fleet, client.put(SETTINGS, json={"prior": "none", "clocks": ["distance"]}))
    job = refit(fleet, client, KIND)
    assert job["state"] == "failed"
    assert job["problem"]["status"] == 409
    assert "no part was seen to fail" in job["problem"]["detail"]
    assert client.get(LIFE).json() == before


def test_no_history_and_no_prior(fleet, client):
    settle(fleet, client.put(SETTINGS, json={"prior": "none"}))
    job = refit(fleet, client, KIND)
    assert (job["state"], job["problem"]["status"]) == ("failed", 409)
    assert "no history" in job["problem"]["detail"]


def test_no_failures_with_the_book_give_a_life_that_says_so(fleet, client):
    record(client, -20_000, -30_000)
    assert refit(fleet, client, KIND)["state"] == "succeeded"
    evidence = client.get(LIFE).json()["evidence"]
    assert (evidence["histories"], evidence["failures"]) == (2, 0)
    assert evidence["words"].startswith("2 histories of this fleet, none of them failed;")


def test_records_far_from_the_book_are_said_to_disagree(fleet, client):
    settle(fleet, client.put(SETTINGS, json={"prior": "book", "clocks": ["distance"]}))
    assert client.get(LIFE).json()["against_book"] is None
    record(client, 60_000, 70_000, -80_000)
    refit(fleet, client, KIND)
    near = client.get(LIFE).json()["against_book"]
    assert (near["telling"], "such as the book expects" in near["words"]) == (False, True)
    record(client, *range(4_000, 6_000, 200))
    refit(fleet, client, KIND)
    far = client.get(LIFE).json()["against_book"]
    assert (far["telling"], far["p"] < 0.01) == (True, True)
    assert "the records disagree with the book: " in far["words"]
    keeper = Visitor(fleet.service.base_url)
    keeper.sign_in(fleet.keys["read"])
    assert unescape(keeper.get(f"/pages/kinds/{KIND}").text).count(far["words"]) == 1


def test_a_refit_moves_the_dates_of_every_car_with_the_part(fleet, client):
    record(client, 15_000, 18_000, 21_000, *[-4_000] * 12)
    before = {one["fitment_id"]: one for one in items(client, "/v1/due-soon", within_days=3660, limit=200)}
    job = refit(fleet, client, KIND)
    assert job["result"]["cars_replanned"] == 12
    after = {one["fitment_id"]: one for one in items(client, "/v1/due-soon", within_days=3660, limit=200)}
    assert len(after) == len(before) == 12
    for fitment_id, item in after.items():
        assert item["evidence"]["failures"] == 3
        assert item["interval"]["years"] < before[fitment_id]["interval"]["years"]


def test_a_refit_of_unchanged_records_changes_nothing(fleet, client):
    record(client, 25_000, -30_000)
    first = refit(fleet, client, KIND)["result"]
    again = refit(fleet, client, KIND)["result"]
    assert first["changed"] is True
    assert (again["changed"], again["model_id"], again["cars_replanned"]) == (False, first["model_id"], 0)


def test_histories_left_out_are_counted_and_named(fleet, client):
    record(client, 25_000, -30_000)
    unread = fitment(client, car(client, name="unread"), KIND, "2018-06-01")
    assert refit(fleet, client, KIND)["result"]["left_out"] == 1
    left_out = client.get(LIFE).json()["left_out"]
    assert left_out["count"] == 1
    assert left_out["named"][0]["fitment_id"] == unread
    assert left_out["named"][0]["reason"]


def test_another_fleets_records_never_count(fleet, client, service):
    record(client, 25_000, 26_000, 27_000)
    other = service.fleet()
    with other.client("write") as elsewhere:
        record(elsewhere, -30_000)
        assert refit(other, elsewhere, KIND)["result"]["histories"] == 1
        assert elsewhere.get(LIFE).json()["evidence"]["failures"] == 0


def test_the_tenth_point_has_both_clocks_and_says_at_which_yearly_distance(fleet, client):
    record(client, 25_000, -30_000)
    refit(fleet, client, KIND)
    life = client.get(LIFE, params={"unit": "mi"}).json()
    point = life["life_at_10_percent"]
    assert point["assumed_per_year"]["value"] == pytest.approx(1_400 / 1.609344)
    assert point["low"]["years"] < point["years"] < point["high"]["years"]
    assert point["distance"]["value"] == pytest.approx(point["years"] * 1_400 / 1.609344, rel=0.02)


def test_a_read_key_asks_for_no_refit(reading):
    problem(reading.post(f"/v1/part-kinds/{KIND}/refits"), 403)


def test_the_catalogue_is_shown_whole(reading):
    found = items(reading, "/v1/part-kinds")
    assert [one["id"] for one in found] == list(load_catalogue())
    one = reading.get("/v1/part-kinds/timing_belt").json()
    assert one in found
    assert one["safety"] is False or one["cap"]["basis"] != "none"
    assert one["cautions"]
