"""What the JSON routes refuse in one record a file does not bring in either; and no statement of an import leaves its fleet."""

import csv
import re

import pytest
from sqlalchemy import event
from sqlalchemy.engine import Engine

from api.imports import looking
from api.imports.fields import kinds
from api.storage.session import writing
from api.webhooks import store as webhooks
from tests.api.imports.sending import items, send

PARTS = "vehicle_ref,external_ref,kind,fitted_on\nA,F1,rotor_arm,2001-05-01\nA,F2,ht_leads,2001-05-01\nB,F3,rotor_arm,2002\n"


@pytest.fixture
def cars(fleet):
    assert (
        send(fleet, "vehicles", "external_ref,name,distance_unit\nA,Alder,mi\nB,Beech,km\n").state == "shown"
    )
    assert send(fleet, "fitments", PARTS).rows[1] == 3
    return {car["external_ref"]: car["id"] for car in items(fleet, "/v1/vehicles")}


def test_bounds_that_are_left_out_themselves_are_kept():
    fit = kinds()["removals"].leaves["complaint_fit"]
    assert 0 < fit.low < 1e-300
    assert fit.high == 1


@pytest.mark.parametrize(
    ("says", "field"),
    [
        ("F1,M,2020-05-01,on suspicion,false,misfire,0", "complaint_fit"),
        ('F1,M,2020-05-01,"failed, confirmed",true,misfire,', "shared_event"),
        ("F1,M,2020-05-01,on suspicion,false,,0.5", "complaint_fit"),
    ],
    ids=["a bound that is left out", "a cause that is known", "a fit of no complaint"],
)
def test_a_removal_is_refused_as_by_its_route(fleet, client, cars, says, field):
    head = "fitment_ref,external_ref,removed_on,reason,cured,shared_event,complaint_fit\n"
    sent = send(fleet, "removals", f"{head}{says}\n")
    assert [error.split(",")[:2] for error in sent.errors] == [["2", field]]
    part = next(
        one for one in items(fleet, f"/v1/vehicles/{cars['A']}/fitments") if one["external_ref"] == "F1"
    )
    assert part["in_service"] is True


def test_no_statement_leaves_the_fleet(service, fleet, cars):
    head = "fitment_ref,external_ref,removed_on,reason,note\n"
    said = []

    @event.listens_for(Engine, "before_cursor_execute")
    def note(_connection, _cursor, statement, _parameters, _context, _many):
        said.append(" ".join(statement.split()))

    try:
        send(fleet, "removals", f"{head}F1,M1,2020-05-01,preventive,\n")
        send(
            fleet,
            "removals",
            f"{head}F1,M1,2020-05-01,preventive,worn\nF3,M3,2000-01-01,preventive,\n",
            bad_rows="skip",
        )
        send(fleet, "removals", f"{head}F2,M2,2020-05-01,preventive,\nF9,M9,2020-01-01,preventive,\n")
        with writing(service.database) as session:
            webhooks.note_success(session, fleet.id, "none", None)
    finally:
        event.remove(Engine, "before_cursor_execute", note)
    changing = [
        one for one in said if re.match(r"DELETE FROM (import_|removal)|UPDATE (fitment|webhook) SET", one)
    ]
    tables = {one.split()[2 if one.startswith("DELETE") else 1] for one in changing}
    assert tables >= {"import_part", "import_match", "removal", "fitment", "webhook"}
    assert [one for one in changing if "fleet_id" not in one.partition(" WHERE ")[2]] == []


REMOVALS = "fitment_ref,external_ref,removed_on,reason,cured,changed_together,shared_event\n"


def test_parts_renewed_against_one_complaint_agree_within_a_file_and_with_what_is_stored(fleet, client, cars):
    more = "vehicle_ref,external_ref,kind,fitted_on\n" + "".join(
        f"A,{ref},{kind},2001-05-01\n"
        for ref, kind in (
            ("F4", "condenser"),
            ("F5", "ignition_coil"),
            ("F6", "distributor_cap"),
            ("F7", "rotor_arm"),
        )
    )
    assert send(fleet, "fitments", more).rows[1] == 4
    rows = (
        "F1,M1,2020-05-01,on suspicion,yes,2,damp",
        "F2,M2,2020-05-01,on suspicion,no,1,damp",  # another outcome
        "F3,M3,2020-05-01,on suspicion,yes,1,damp",  # another car's part
        "F4,M4,2020-05-01,on suspicion,yes,1,damp",
        "F5,M5,2020-05-01,on suspicion,yes,1,damp",  # a third, of two
        "F6,M6,2020-05-01,on suspicion,no,1,hot",
        "F7,M7,2021-05-01,on suspicion,no,1,hot",  # a year later
    )
    refused = send(fleet, "removals", REMOVALS + "\n".join(rows))
    assert refused.state == "refused"
    wrong = [["3", "cured"], ["4", "shared_event"], ["6", "changed_together"], ["8", "removed_on"]]
    assert [error.split(",")[:2] for error in refused.errors] == wrong
    sent = send(fleet, "removals", REMOVALS + "\n".join(rows), bad_rows="skip")
    assert (sent.state, sent.rows) == ("shown", (7, 3, 0, 0, 4))
    assert [error.split(",")[:2] for error in sent.errors] == wrong
    stored = {
        part["external_ref"]: part["in_service"]
        for part in items(fleet, f"/v1/vehicles/{cars['A']}/fitments")
    }
    assert {ref for ref, serving in stored.items() if not serving} == {"F1", "F4", "F6"}
    later = send(fleet, "removals", f"{REMOVALS}F2,M2,2020-05-01,on suspicion,yes,1,hot\n")
    assert [error.split(",")[:2] for error in later.errors] == [["2", "cured"]]
    changed = send(fleet, "removals", f"{REMOVALS}F6,M6,2020-05-01,on suspicion,no,1,damp\n")
    assert [error.split(",")[:2] for error in changed.errors] == [["2", "cured"]]
    assert send(fleet, "removals", REMOVALS + "\n".join((rows[0], rows[3], rows[5]))).rows == (3, 0, 0, 3, 0)
    moved = send(fleet, "removals", f"{REMOVALS}F4,M4,2020-06-01,on suspicion,yes,1,damp\n")
    assert [error.split(",")[:2] for error in moved.errors] == [["2", "removed_on"]]


def test_a_complaint_named_by_somebody_else_meanwhile_is_looked_at_again(
    service, fleet, client, cars, monkeypatch
):
    part = {one["external_ref"]: one["id"] for one in items(fleet, f"/v1/vehicles/{cars['B']}/fitments")}[
        "F3"
    ]
    said = {"removed_on": "2021-01-01", "reason": "on suspicion", "cured": True, "shared_event": "damp"}
    look = looking.look_at_all

    def and_then(*arguments):
        found = look(*arguments)
        assert client.post(f"/v1/fitments/{part}/removal", json=said).status_code == 201
        return found

    monkeypatch.setattr(looking, "look_at_all", and_then)
    sent = send(fleet, "removals", f"{REMOVALS}F1,M1,2020-05-01,on suspicion,yes,1,damp\n")
    assert [error.split(",")[:2] for error in sent.errors] == [["2", "shared_event"]]


def test_a_refused_cell_is_shown_as_the_file_has_it_with_how_the_file_writes_such(fleet, cars):
    head = "vehicle_ref;external_ref;read_on;reading.value;reading.unit\n"
    text = (
        head
        + "A;E1;31.02.2020;5;mi\nA;E2;17.5.2024;50.000,5;mi\nA;E3;17.5.2024;1e400;mi\nA;E4;17.5.2024;5;mi\n"
    )
    sent = send(fleet, "odometer-readings", text, decimal_comma=True, days="day first", bad_rows="skip")
    told = list(csv.reader(sent.errors))
    assert [(row[1], row[3]) for row in told] == [
        ("read_on", "31.02.2020"),
        ("reading.value", "50.000,5"),
        ("reading.value", "1e400"),
    ]
    assert told[0][2].endswith("or a day of the calendar written day first: 17.05.1998")
    assert "nothing between thousands" in told[1][2]
