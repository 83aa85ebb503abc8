"""What goes out as a file comes back in: an export taken into an empty fleet gives the same rows and the same export again."""

import csv
import io
import json

import pytest

from api.imports.fields import kinds
from api.storage.session import reading
from tests.api.history.making import car, fitment, made, odometer, removal
from tests.api.imports.sending import export, items, send

OWN = {"id", "fleet_id", "vehicle_id", "fitment_id", "external_ref", "version", "created_at", "updated_at"}
FORMULA = '=HYPERLINK("https://x.example","\'a")'


@pytest.fixture
def filled(fleet, client):
    """One of everything: miles, rough days, a donor, measurements, formulas, text in other scripts; few with references."""
    ida = car(
        client, name=FORMULA, distance_unit="mi", notes="'=kept as it was", storage="+dry, “heated” — 冬",
        circumstances=["short_trips", "heat_soak"],
    )  # fmt: skip
    otto = car(client, external_ref="OTTO", built="1964~", chassis_number="-0042", system="points")
    odometer(client, ida, "2015-01-01", 61200.5, unit="mi", source="@invoice", dial_digits=6)
    odometer(client, ida, "2019-01-01", 70000, unit="mi", external_ref="r2")
    odometer(client, otto, "2018-01-01", 99000, dial_digits=5)
    odometer(client, otto, "2019-06-01", 400, dial_digits=5, rollovers=1)
    odometer(client, otto, "2020-06-01", 12, new_instrument=True)
    rotor = fitment(client, ida, "rotor_arm", "2016-05~", note="a,b;c\n'=d", grade="maker's")
    pads = fitment(
        client, otto, "brake_pads", "2018-03-01", 99200, position="front axle", condition="second-hand",
        donor={"distance": {"value": 8000, "unit": "mi"}, "years": 3.5}, external_ref="P-1",
        cap={"distance": {"value": 40000, "unit": "km"}, "years": 9},
    )  # fmt: skip
    look = {"inspected_on": "2018-09-01", "finding": "near limit", "note": "|x",
            "measurement": {"value": -1.25, "unit": "mm", "limit": 1}}  # fmt: skip
    made(client.post(f"/v1/fitments/{pads}/inspections", json=look))
    made(
        client.post(f"/v1/fitments/{rotor}/repairs", json={"repaired_on": "2017-01-02", "action": "cleaned"})
    )
    removal(client, rotor, "2018-06", "on suspicion", cured=False, changed_together=3)
    return {"OTTO": otto}


def rows(service, fleet, kind):
    """Every column of a kind's rows that is not the row's own."""
    with reading(service.database) as session:
        found = session.query(kinds()[kind].table).filter_by(fleet_id=fleet.id).all()
        plain = [
            {name: value for name, value in row.model_dump().items() if name not in OWN} for row in found
        ]
    return sorted(plain, key=lambda row: json.dumps(row, default=str, sort_keys=True))


@pytest.mark.parametrize("file_format", ["csv", "jsonl"])
def test_into_an_empty_fleet(service, fleet, filled, file_format):
    other = service.fleet()
    for kind in kinds():
        out = export(fleet, kind, file_format)
        sent = send(other, kind, out.encode(), format=file_format)
        assert (sent.state, sent.errors) == ("shown", []), sent.job
        assert sent.rows[1] == len(rows(service, fleet, kind)) > 0
        assert export(other, kind, file_format) == out
    for kind in kinds():
        assert rows(service, other, kind) == rows(service, fleet, kind)
    assert {one["name"] for one in items(other, "/v1/vehicles")} == {FORMULA, "Ida"}


def test_into_the_same_fleet_changes_nothing(fleet, filled):
    for kind in kinds():
        out = export(fleet, kind)
        sent = send(fleet, kind, out)
        assert sent.state == "shown"
        assert (sent.rows[1], sent.rows[2], sent.rows[4]) == (0, 0, 0), (kind, sent.rows)
        assert sent.rows[3] == sent.rows[0] > 0
        assert export(fleet, kind) == out


def test_no_cell_is_one_that_a_spreadsheet_runs(fleet, filled):
    numbers = {"measurement.value", "reading.value"}
    for kind in kinds():
        table = list(csv.DictReader(io.StringIO(export(fleet, kind), newline="")))
        for row in table:
            for name, cell in row.items():
                assert name in numbers or cell[:1] not in {"=", "+", "-", "@", "|", "\t"}, (name, cell)
    names = {row["name"] for row in csv.DictReader(io.StringIO(export(fleet, "vehicles"), newline=""))}
    assert "'" + FORMULA in names


def test_another_fleet_gets_nothing_of_it(service, filled):
    other = service.fleet()
    for kind in kinds():
        assert export(other, kind).count("\n") == 1
        assert export(other, kind, "jsonl") == ""
