"""A due-soon answer says for each part: both clocks, window, chances, what decides, how much is book, costs, cautions."""

import re
from datetime import date, timedelta

import pytest

from planner.catalogue import load_catalogue
from planner.interval import best_interval, book_cap, default_costs
from planner.life.fit import book_life
from planner.life.prior import book_prior
from tests.api.history.making import car, fitment, items, odometer, refit, removal

AS_OF = date(2026, 10, 1)


@pytest.fixture
def driven(client):
    """A car of 2,000 miles a year, read every year to 2026."""
    vehicle = car(client, name="Dorothea", distance_unit="mi", joined_on="2012-06-01")
    for year in range(2012, 2027):
        odometer(client, vehicle, f"{year}-09-01", 40_000 + 2_000 * (year - 2012), "mi", dial_digits=6)
    return vehicle


def due(client, vehicle, kind, as_of=AS_OF, days=3660):
    found = items(client, f"/v1/vehicles/{vehicle}/due-soon", as_of=as_of, within_days=days)
    return next(one for one in found if one["kind"] == kind)


def test_every_field_is_there_and_makes_sense(client, driven):
    part = fitment(client, driven, "rotor_arm", "2022-09-01", 60_000, "mi", position="main")
    item = due(client, driven, "rotor_arm")
    assert (item["fitment_id"], item["vehicle_id"], item["vehicle_name"]) == (part, driven, "Dorothea")
    assert (item["part"], item["position"], item["safety"]) == ("rotor arm", "main", False)

    clocks = item["clocks"]
    assert clocks["distance"]["unit"] == "mi"
    assert clocks["distance"]["value"] == pytest.approx(8_000, rel=0.05)
    assert clocks["age_years"] == pytest.approx(4.1, abs=0.05)
    assert clocks["age_unknown"] is False

    window = item["window"]
    assert AS_OF.isoformat() <= window["earliest"] <= window["likely"] <= window["latest"]
    assert item["status"] in {"soon", "later"}
    assert item["decides"] in {"distance", "age"}
    for name in ("chance_before_window", "chance_to_window_end"):
        chance = item[name]
        assert 0 <= chance["low"] <= chance["mean"] <= chance["high"] <= 1
    assert item["chance_before_window"]["mean"] < item["chance_to_window_end"]["mean"]
    assert item["chance_to_window_end"]["until"] == window["latest"]

    evidence = item["evidence"]
    assert (evidence["source"], evidence["histories"], evidence["prior_share"]) == ("book", 0, 1)
    assert evidence["words"] == "All book: no history of this kind counts yet."
    cost = item["cost"]
    assert cost["currency"] == "GBP"
    assert cost["planned"] < cost["failure"]
    assert cost["per_year"] < cost["run_to_failure_per_year"]
    assert cost["basis"] == "book"
    assert item["cautions"]


def test_the_interval_is_the_planners_own(client, driven):
    """The same book life, costs and yearly distance given to the library directly."""
    fitment(client, driven, "rotor_arm", "2022-09-01", 60_000, "mi")
    item = due(client, driven, "rotor_arm")
    kind = load_catalogue()["rotor_arm"]
    life = book_life(book_prior(kind), seed=1, draws=400)
    rule = best_interval(
        life, default_costs(kind), km_per_year=3_219, cap=book_cap(kind), max_risk=kind.max_risk
    )
    assert item["interval"]["years"] == pytest.approx(rule.years, rel=0.03)
    likely = date(2022, 9, 1) + timedelta(days=365.25 * rule.years)
    assert abs((date.fromisoformat(item["window"]["likely"]) - likely).days) < 60


def test_words_are_odds_in_the_keepers_unit_without_false_precision(client, driven):
    for kind in ("rotor_arm", "spark_plugs_ni", "contact_points"):
        fitment(client, driven, kind, "2022-09-01", 60_000, "mi")
    for item in items(client, f"/v1/vehicles/{driven}/due-soon", as_of=AS_OF, within_days=3660):
        said = " ".join([item["reason"], item["clocks"]["words"], item["evidence"]["words"],
                         item["chance_before_window"]["words"], item["chance_to_window_end"]["words"]])  # fmt: skip
        assert not re.search(r"\d\s*%|\bkm\b|\d\.\d\d", said), said
        assert " mi" in said
        assert re.search(r"\b1 in \d|\bin 10\b|nearly certain", said)


def test_clocks_and_chances_move_with_the_day_asked_about(client, driven):
    fitment(client, driven, "rotor_arm", "2022-09-01", 60_000, "mi")
    now, later = due(client, driven, "rotor_arm"), due(client, driven, "rotor_arm", date(2027, 10, 1))
    assert later["clocks"]["age_years"] == pytest.approx(now["clocks"]["age_years"] + 1, abs=0.11)
    gained = later["clocks"]["distance"]["value"] - now["clocks"]["distance"]["value"]
    assert gained == pytest.approx(2_000, rel=0.15)
    assert later["window"]["likely"] == now["window"]["likely"]
    assert later["chance_before_window"]["mean"] <= now["chance_before_window"]["mean"]


def test_an_overdue_part_says_what_another_year_would_risk(client, driven):
    fitment(client, driven, "v_belt", "2013-01-01", 41_000, "mi")
    item = due(client, driven, "v_belt")
    assert item["status"] == "due now"
    assert {item["window"][name] for name in ("earliest", "likely", "latest")} == {AS_OF.isoformat()}
    waiting = item["chance_to_window_end"]
    assert waiting["until"] == (AS_OF + timedelta(days=365)).isoformat()
    assert waiting["mean"] > 0.1
    assert waiting["words"].endswith("if it is left for another year")


@pytest.mark.parametrize("kind", [k.id for k in load_catalogue().values() if k.safety][:3])
def test_a_safety_part_carries_cautions_and_what_is_known_of_its_limit(client, driven, kind):
    fitment(client, driven, kind, "2024-09-01", 64_000, "mi")
    item = due(client, driven, kind)
    entry = load_catalogue()[kind]
    assert item["safety"] is True
    assert set(entry.cautions) < set(item["cautions"])
    assert entry.cap.note in item["cautions"]
    if entry.cap.basis == "unknown":
        assert any(said.startswith("limit unknown: look it up") for said in item["cautions"])


def test_the_fleets_own_records_show_in_the_evidence(fleet, client, driven):
    fitment(client, driven, "v_belt", "2024-09-01", 64_000, "mi")
    for number in range(6):
        other = car(client, name=f"other {number}", joined_on="2012-01-01")
        part = fitment(client, other, "v_belt", "2012-03-01", 50_000)
        removal(client, part, f"20{14 + number}-03-01", "failed, confirmed", 53_000 + 1_000 * number)
    assert refit(fleet, client, "v_belt")["state"] == "succeeded"
    evidence = due(client, driven, "v_belt")["evidence"]
    assert (evidence["source"], evidence["histories"], evidence["failures"]) == ("fitted", 7, 6)
    assert 0 < evidence["prior_share"] < 1
    assert evidence["words"].startswith("7 histories of this fleet, 6 failures among them;")
