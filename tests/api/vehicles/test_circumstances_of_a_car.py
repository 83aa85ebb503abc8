"""What a keeper tells of a car, or of a part's grade, moves the dates of the parts that it bears on, and of no others."""

import pytest

from api.bridge.in_force.effects import DRAWS
from planner import Costs, best_interval, book_life, book_modifiers, book_prior, load_catalogue
from planner.life.modifiers.in_circumstances import book_multiplier, life_in
from tests.api.faults.cases import DAMP, car_with, chances, opened
from tests.api.history.making import car, fitment, items, odometer, problem, settle
from tests.api.imports.sending import export, send

KINDS = ("battery", "exhaust", "v_belt", "brake_discs")
FITTED = "2026-02-01"
COSTS = Costs(planned=50.0, failure=600.0)


@pytest.fixture
def costly(client):
    """A fleet to which a failure costs far more than a renewal, so that intervals are short of running to failure."""
    for kind in KINDS:
        body = {"costs": {"planned": COSTS.planned, "failure": COSTS.failure}}
        client.put(f"/v1/part-kinds/{kind}/settings", json=body).raise_for_status()


def driven(client, **fields):
    """A car that does 6,000 km a year, with a new part of each kind."""
    vehicle = car(client, **fields)
    odometer(client, vehicle, "2016-01-01", 20_000)
    odometer(client, vehicle, "2026-01-01", 80_000)
    for kind in KINDS:
        fitment(client, vehicle, kind, FITTED)
    return vehicle


def schedule(client, vehicle):
    """Its parts by kind."""
    found = items(client, f"/v1/vehicles/{vehicle}/schedule", horizon_years=10)
    return {item["kind"]: item for item in found}


def told(client, vehicle, *ids):
    """The car once its keeper has told its circumstances."""
    tag = client.get(f"/v1/vehicles/{vehicle}").headers["etag"]
    found = client.patch(f"/v1/vehicles/{vehicle}", json={"circumstances": ids}, headers={"If-Match": tag})
    assert found.status_code == 200, found.text
    assert found.json()["circumstances"] == sorted(ids)
    return found.json()


def expected(kind, rate, *ids, costs=None):
    """The interval that the library gives: the book's life times the book's multipliers. Answers show two figures of it."""
    entry = load_catalogue()[kind]
    life = book_life(book_prior(entry), seed=1, draws=400)
    own = [book_multiplier(one, DRAWS) for one in book_modifiers(entry) if one.name in ids]
    costs = costs or Costs(COSTS.planned, COSTS.failure, entry.new_part_fault)
    return best_interval(life_in(life, own), costs, km_per_year=rate, max_risk=entry.max_risk)


def answers(client, vehicle):
    """What is said of a car, byte by byte."""
    asked = (
        "schedule?horizon_years=10",
        "risk?days=365",
        "visits?within_years=2",
        "due-soon?within_days=730",
    )
    found = [client.get(f"/v1/vehicles/{vehicle}/{one}") for one in asked]
    assert all(one.status_code == 200 for one in found), [one.text for one in found]
    return [one.content for one in found]


def test_dates_follow_what_is_told_and_other_cars_stand_as_they_are(client, costly):
    plain, own = driven(client, name="plain"), driven(client, name="own")
    before, usual = answers(client, plain), schedule(client, own)
    told(client, own, "short_trips", "dry_garage")
    moved = schedule(client, own)
    assert answers(client, plain) == before
    assert moved["v_belt"] == usual["v_belt"], "no modifier of the book bears on belts"
    for kind, ids in (("battery", ["short_trips"]), ("exhaust", ["short_trips", "dry_garage"])):
        wanted = expected(kind, 6_000.0, *ids)
        assert moved[kind]["interval"]["years"] == pytest.approx(wanted.years, rel=0.05)
        assert moved[kind]["interval"]["years"] != pytest.approx(usual[kind]["interval"]["years"], rel=0.1)
    assert moved["battery"]["window"]["likely"] < usual["battery"]["window"]["likely"]
    words = "Mostly trips under 10 km: life about 0.53 of the usual (book, between 0.38 and 0.73). "
    assert words in moved["battery"]["reason"]
    assert (
        "Kept in a dry, heated garage: life about 1.6 of the usual (book, between 1.2 and 2.2)"
        in moved["exhaust"]["reason"]
    )
    told(client, own)
    assert schedule(client, own) == usual


def test_a_pattern_grade_shortens_that_part_and_other_words_change_nothing(client):
    vehicle = car(client)
    odometer(client, vehicle, "2016-01-01", 20_000)
    odometer(client, vehicle, "2026-01-01", 80_000)
    grades = {"a": None, "b": "maker's", "c": "Pattern", "d": "a cheap pattern one"}
    for place, grade in grades.items():
        fitment(client, vehicle, "condenser", FITTED, position=place, grade=grade)
    found = items(client, f"/v1/vehicles/{vehicle}/schedule", horizon_years=10)
    by_place = {item["position"]: item for item in found}
    usual = by_place["a"]
    for place in ("b", "d"):
        assert by_place[place]["interval"] == usual["interval"]
        assert by_place[place]["reason"] == usual["reason"]
    cheap = by_place["c"]
    assert "Cheap pattern part: life about 0.59 of the usual" in cheap["reason"]
    assert "2 to 10 % of new ones are bad from the shelf (book)" in cheap["reason"]
    assert cheap["chance_to_window_end"]["mean"] != usual["chance_to_window_end"]["mean"]
    risk = client.get(f"/v1/vehicles/{vehicle}/risk", params={"days": 365}).json()
    chance = {part["fitment_id"]: part["chance"]["mean"] for part in risk["contributors"]}
    assert chance[cheap["fitment_id"]] > 1.3 * chance[usual["fitment_id"]]
    assert chance[by_place["d"]["fitment_id"]] == chance[usual["fitment_id"]]
    kept = client.get(f"/v1/fitments/{cheap['fitment_id']}").json()["grade"]
    assert kept == "pattern"  # as the book spells it


def test_a_safety_part_is_never_planned_later_for_it(client, costly):
    usual, dry, damp = (driven(client, circumstances=ids) for ids in ([], ["dry_garage"], ["damp_outdoors"]))
    kept, sooner = schedule(client, dry)["brake_discs"], schedule(client, damp)["brake_discs"]
    plain = schedule(client, usual)["brake_discs"]
    assert (kept["interval"], kept["window"]) == (plain["interval"], plain["window"])
    assert "Kept in a dry, heated garage: a safety part is never planned later for it. " in kept["reason"]
    assert sooner["interval"]["years"] < plain["interval"]["years"]
    assert schedule(client, dry)["exhaust"]["interval"] != schedule(client, usual)["exhaust"]["interval"]


def test_new_terms_reach_parts_in_circumstances_as_if_each_were_planned_alone(fleet, client):
    vehicle = driven(client, circumstances=["short_trips"])
    body = {"costs": {"planned": 30.0, "failure": 900.0}}
    settle(fleet, client.put("/v1/part-kinds/battery/settings", json=body))
    in_bulk = schedule(client, vehicle)["battery"]
    told(client, vehicle)
    told(client, vehicle, "short_trips")
    assert schedule(client, vehicle)["battery"] == in_bulk
    costs = Costs(30.0, 900.0, load_catalogue()["battery"].new_part_fault)
    assert in_bulk["interval"]["years"] == pytest.approx(
        expected("battery", 6_000.0, "short_trips", costs=costs).years, rel=0.05
    )


def test_refusals_name_what_is_known(client):
    body = {"name": "Ida", "distance_unit": "km"}
    for ids, wanted in (
        (["short_trip"], "damp_outdoors, dry_garage"),
        (["pattern_grade"], "not 'pattern_grade'"),
        (["short_trips", "short_trips"], "each circumstance once"),
        (["dry_garage", "damp_outdoors"], "not dry_garage together with damp_outdoors"),
    ):
        found = client.post("/v1/vehicles", json={**body, "circumstances": ids})
        assert wanted in problem(found, 422, "circumstances")["errors"][0]["wanted"]
    for odd in ("short_trips", [5], {"short_trips": True}):
        assert client.post("/v1/vehicles", json={**body, "circumstances": odd}).status_code == 422


def test_a_file_of_cars_moves_the_dates_of_their_parts(fleet, client, costly):
    vehicle = driven(client, external_ref="IDA", circumstances=["hot_climate"])
    battery = schedule(client, vehicle)["battery"]
    out = export(fleet, "vehicles")
    assert "hot_climate" in out
    assert send(fleet, "vehicles", out).rows == (1, 0, 0, 1, 0)
    changed = out.replace("hot_climate", "short_trips; float_maintainer")
    assert send(fleet, "vehicles", changed).rows == (1, 0, 1, 0, 0)
    moved = schedule(client, vehicle)["battery"]
    assert client.get(f"/v1/vehicles/{vehicle}").json()["circumstances"] == [
        "float_maintainer",
        "short_trips",
    ]
    wanted = expected("battery", 6_000.0, "short_trips", "float_maintainer")
    assert moved["interval"]["years"] == pytest.approx(wanted.years, rel=0.05) != battery["interval"]["years"]
    bad = send(fleet, "vehicles", out.replace("hot_climate", "hot_weather"))
    assert bad.rows == (1, 0, 0, 0, 1)
    assert "circumstances" in bad.errors[0]
    assert "hot_climate" in bad.errors[0]


def test_suspicion_follows_what_is_told(client):
    (plain, _), (damp, _) = car_with(client, DAMP), car_with(client, DAMP)
    told(client, damp, "damp_outdoors")
    usual, own = chances(opened(client, plain)), chances(opened(client, damp))
    assert own["ht_leads"] > usual["ht_leads"]
    assert own["ignition_coil"] < usual["ignition_coil"], "the book knows of no damp that wears coils"
