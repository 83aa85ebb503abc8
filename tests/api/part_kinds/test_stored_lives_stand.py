"""A stored life stands until something that it was made from changes, and lives stored by earlier releases still load."""

import json
from pathlib import Path

import pytest
from sqlmodel import select

from api.bridge.learning import fitted
from api.storage.session import writing
from api.storage.tables import LifeModel
from tests.api.history.making import car, fitment, odometer, refit, removal

KIND = "damper"
EARLIER = json.loads((Path(__file__).parent / "life_of_schema_1.json").read_text(encoding="utf-8"))


@pytest.fixture
def fits(monkeypatch):
    """How often a life is fitted."""
    made = []

    def counting(*arguments, **options):
        made.append(arguments)
        return real(*arguments, **options)

    real = fitted.fit_life
    monkeypatch.setattr(fitted, "fit_life", counting)
    return made


def record(client, name, km, *, failed):
    vehicle = car(client, name=name)
    part = fitment(client, vehicle, KIND, "2015-06-01", 20_000)
    if failed:
        removal(client, part, "2021-06-01", "failed, confirmed", 20_000 + km)
    else:
        odometer(client, vehicle, "2021-06-01", 20_000 + km)
    return part


def test_the_same_records_are_not_fitted_again(fleet, client, fits):
    record(client, "one", 25_000, failed=True)
    part = record(client, "two", 30_000, failed=False)
    first = refit(fleet, client, KIND)["result"]
    assert (len(fits), first["changed"], first["said"]) == (1, True, "fitted anew")
    again = refit(fleet, client, KIND)["result"]
    assert len(fits) == 1
    assert again["said"] == "nothing has changed since the last fit, which stands"
    same = {"model_id", "source", "histories", "failures", "left_out", "integrated_over", "shared_events"}
    assert {name: again[name] for name in same} == {name: first[name] for name in same}

    removal(client, part, "2022-01-01", "failed, confirmed", 55_000)
    other = refit(fleet, client, KIND)["result"]
    assert len(fits) == 2
    assert (other["changed"], other["failures"]) == (True, 2)
    assert other["model_id"] != first["model_id"]


def test_a_life_stored_by_an_earlier_release_still_answers(fleet, client):
    record(client, "one", 30_000, failed=False)
    with writing(fleet.service.database) as session:
        row = session.exec(select(LifeModel).where(LifeModel.fleet_id == fleet.id)).one()
        row.current = False
        session.add(row)
        session.flush()
        session.add(
            LifeModel(
                fleet_id=fleet.id,
                kind=KIND,
                source="fitted",
                content=EARLIER,
                fingerprint="of an earlier release",
                schema_number=1,
            )
        )
    seen = client.get(f"/v1/part-kinds/{KIND}/life").json()
    assert seen["source"] == "fitted"
    assert seen["distance"]["scale"]["value"] == pytest.approx(EARLIER["distance"]["scale"])
    assert (seen["evidence"]["histories"], seen["evidence"]["integrated_over"]) == (2, 0)
    part = record(client, "two", 10_000, failed=False)  # planned on the life of the earlier release
    vehicle = client.get(f"/v1/fitments/{part}").json()["vehicle_id"]
    planned = client.get(f"/v1/vehicles/{vehicle}/schedule").json()["items"]
    assert [one["evidence"]["source"] for one in planned] == ["fitted"]
    assert refit(fleet, client, KIND)["result"]["changed"] is True
