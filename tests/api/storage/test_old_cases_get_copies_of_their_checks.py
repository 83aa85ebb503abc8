"""Cases from before copies were kept get a copy of their own checks, and know by which own complaint they were opened."""

import json
from datetime import UTC, date, datetime

import sqlalchemy as sa

from api.storage import schema
from api.storage.session import reading, writing

DAY = date(2026, 2, 1)
NOW = datetime(2026, 3, 1, tzinfo=UTC)
CHECK = {"name": "Drip water", "targets": ["v_belt"], "sensitivity": 0.9, "specificity": 0.95, "minutes": 2}
COMPLAINT = {"title": "Squeals", "causes": [{"kinds": ["v_belt"], "weight": 60}]}
STEPS = [
    {"check": "drip", "outcome": "good", "shows_bad": False, "fault_present": None},
    {"check": "dwell", "outcome": "good", "shows_bad": False, "fault_present": None},
    {"renewed": ["x"], "cured": False},
]


def insert(session, table, **values):
    shared = {"version": 1, "created_at": NOW, "updated_at": NOW}
    columns = [
        sa.column(name, sa.JSON() if isinstance(value, dict | list) else None)
        for name, value in (shared | values).items()
    ]
    session.execute(sa.insert(sa.table(table, *columns)).values(shared | values))


def case(session, name, complaint, **values):
    body = {
        "id": name, "fleet_id": "f", "vehicle_id": "v", "complaint": complaint, "title": complaint, "conditions": [],
        "last_ran_well": DAY, "noted_on": DAY, "fault_present": 1.0, "suspects": [], "steps": STEPS,
        "opened_with": {"own_complaint": None, "parts": []}, "closing": {}, "cause": {},
    }  # fmt: skip
    insert(session, "fault_finding", **body | values)


def test_copies_come_in_with_the_step(empty):
    schema.migrate(empty, "0007")
    with writing(empty) as session:
        for fleet in ("f", "g"):
            insert(session, "fleet", id=fleet, name=fleet, time_zone="UTC", currency="EUR")
        insert(session, "vehicle", id="v", fleet_id="f", name="car", distance_unit="km")
        insert(session, "own_check", id="c", fleet_id="f", name="drip", content=CHECK)
        insert(session, "own_check", id="d", fleet_id="g", name="dwell", content=CHECK)
        insert(session, "own_complaint", id="o", fleet_id="f", name="squeals", content=COMPLAINT)
        taught = {"causes": {"v_belt": 1.0}, "car_ratios": {}}
        case(session, "closed", "squeals", closed_on=DAY, cause=taught)
        case(session, "open", "misfire_in_damp")
    schema.migrate(empty)
    with reading(empty) as session:
        rows = {
            row.id: [json.loads(part) if isinstance(part, str) else part for part in row[1:]]
            for row in session.execute(sa.text("SELECT id, steps, opened_with, cause FROM fault_finding"))
        }
    with_copy = [{**STEPS[0], "as_it_was": {"id": "drip", **CHECK}}, *STEPS[1:]]
    assert rows["closed"] == [
        with_copy,
        {"own_complaint": None, "parts": [], "own_complaint_id": "o"},
        taught | {"complaint_id": "o"},
    ]
    assert rows["open"] == [with_copy, {"own_complaint": None, "parts": [], "own_complaint_id": None}, {}]
