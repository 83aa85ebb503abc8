"""Parts that fail as soon as they are fitted say how many new ones are bad: on the life page, and in the costs of intervals."""

import pytest
from sqlmodel import select

from api.buying import service as buying
from api.security import Principal
from api.storage.session import reading as reading_session
from api.storage.tables import Forecast
from planner.catalogue import load_catalogue
from tests.api.history.making import car, fitment, odometer, refit, removal, settle

KIND = "rotor_arm"
LIFE = f"/v1/part-kinds/{KIND}/life"
BOOK = load_catalogue()[KIND].new_part_fault


def record(client, at_once, soon, sound):
    """Parts fitted new: so many fail within the week, so many after 500 km, so many are still good."""
    for number in range(at_once + soon + sound):
        vehicle = car(client, name=f"car {number}")
        part = fitment(client, vehicle, KIND, "2015-06-01", 20_000)
        if number < at_once:
            removal(client, part, "2015-06-04", "failed, confirmed", 20_050)
        elif number < at_once + soon:
            removal(client, part, "2015-08-01", "failed, confirmed", 20_500)
        else:
            odometer(client, vehicle, "2021-06-01", 40_000)


def reckoned_with(fleet):
    """The chance of a bad new part in each forecast of the fleet."""
    with reading_session(fleet.service.database) as session:
        rows = session.exec(select(Forecast).where(Forecast.fleet_id == fleet.id)).all()
        return {row.coefficients["new_part_fault"] for row in rows}


def told(client):
    """What the kind's settings say is in force, where it is from, and what the book says."""
    found = client.get(f"/v1/part-kinds/{KIND}/settings").json()["in_force"]
    return tuple(found[f"new_part_fault{part}"] for part in ("", "_from", "_by_book"))


def test_early_failures_raise_the_share_and_the_forecasts_reckon_with_it(fleet, client):
    record(client, at_once=3, soon=3, sound=10)
    assert told(client) == (BOOK, "book", BOOK)
    assert client.get(LIFE).json()["new_parts"] is None
    assert reckoned_with(fleet) == {BOOK}
    assert refit(fleet, client, KIND)["state"] == "succeeded"
    found = client.get(LIFE).json()["new_parts"]
    assert (found["parts"], found["early"]) == (16, 6)
    # the book's share is worth 50 parts: (0.03 x 50 + 6) / (50 + 16) if every early failure is the new part's fault
    assert found["mean"] == pytest.approx((BOOK * 50 + 6) / 66, rel=0.02)
    assert found["low"] < found["mean"] < found["high"]
    assert found["by_fault"] > 5.5
    assert "16 watched from new, 6 of them failed early" in found["words"]
    (used,) = reckoned_with(fleet)
    assert used == pytest.approx(found["mean"], rel=0.01)
    assert told(client) == (used, "records", BOOK)
    with reading_session(fleet.service.database) as session:
        who = Principal(fleet.id, "", "read", "UTC", "GBP")
        _, terms = buying._in_force(session, who, [load_catalogue()[KIND]])
    assert terms[KIND].costs.new_part_fault == used, "a buyer's list reckons with it too"
    ended = fleet.wait_for_job(client.post(f"/v1/part-kinds/{KIND}/rules").headers["Location"])
    assert ended["state"] == "succeeded"
    assert client.get(f"/v1/part-kinds/{KIND}/rule").json()["up_to_date"] is True


def test_sound_parts_lower_it(fleet, client):
    record(client, at_once=0, soon=0, sound=12)
    refit(fleet, client, KIND)
    found = client.get(LIFE).json()["new_parts"]
    assert found["early"] == 0
    assert found["mean"] < BOOK


def test_the_fleets_own_figure_stands(fleet, client):
    record(client, at_once=3, soon=0, sound=6)
    refit(fleet, client, KIND)
    settle(fleet, client.put(f"/v1/part-kinds/{KIND}/settings", json={"new_part_fault": 0.01}))
    assert reckoned_with(fleet) == {0.01}
    assert told(client) == (0.01, "own", BOOK)
    settle(fleet, client.put(f"/v1/part-kinds/{KIND}/settings", json={"new_part_fault": None}))
    (used,) = reckoned_with(fleet)
    assert used == pytest.approx(client.get(LIFE).json()["new_parts"]["mean"], rel=0.01)
