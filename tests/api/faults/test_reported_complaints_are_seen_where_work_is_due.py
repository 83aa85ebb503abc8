"""A part that may be behind a complaint already reported says so in the lists, while the case is open; reads fit nothing."""

import pytest
from sqlalchemy import event

from api.bridge import gather, keep
from api.bridge.in_force import book_lives, tables
from api.bridge.learning import fitted, learn
from tests.api.faults.cases import DAMP, car_with, closed, opened
from tests.api.history.making import items
from tests.api.schedules.test_reads_never_fit import forbidden


@pytest.fixture
def damp(client):
    return car_with(client, DAMP | {"tyres": 9})


def reported(client, path, **query):
    return {one["kind"]: one["reported_complaints"] for one in items(client, path, **query)}


def test_suspects_of_an_open_case_say_so_and_no_other_part(client, damp):
    vehicle, parts = damp
    lists = (
        ("/v1/due-soon", {"within_days": 3660}),
        (f"/v1/vehicles/{vehicle}/due-soon", {"within_days": 3660}),
        (f"/v1/vehicles/{vehicle}/schedule", {"horizon_years": 10}),
    )
    for path, query in lists:
        assert not any(reported(client, path, **query).values())
    case = opened(client, vehicle)
    shown = {"finding_id": case["id"], "complaint": case["complaint"], "title": case["title"]}
    suspected = {one["kind"] for one in case["ranking"]["suspects"]}
    for path, query in lists:
        found = reported(client, path, **query)
        assert "ht_leads" in found
        assert all(found[kind] == ([shown] if kind in suspected else []) for kind in found)
        assert found["tyres"] == []
    closed(client, case, cured=True, by=[parts["ht_leads"]])
    for path, query in lists:
        assert not any(reported(client, path, **query).values())


def test_however_many_cars_and_cases_the_queries_stay_as_many(service, client, damp):
    def asked():
        seen = []

        def note(_connection, _cursor, statement, *_rest):
            seen.append(statement)

        event.listen(service.database.engine, "before_cursor_execute", note)
        try:
            items(client, "/v1/due-soon", within_days=3660)
        finally:
            event.remove(service.database.engine, "before_cursor_execute", note)
        return [one for one in seen if "fault_finding" in one]

    few = len(asked())
    assert 1 <= few <= 3  # the cases beside the lines, and the bans on driving above them
    for _ in range(2):
        other, _ = car_with(client, DAMP)
        opened(client, other)
        opened(client, damp[0])
    assert len(asked()) == few


def test_a_case_is_read_with_everything_that_fits_taken_away(client, reading, damp, monkeypatch):
    case = opened(client, damp[0])
    paths = [f"/v1/fault-findings/{case['id']}", f"/v1/fault-findings/{case['id']}/next-step"]
    before = [reading.get(path).json() for path in paths]
    for place, name in (
        (tables, "make"),
        (book_lives, "book_life"),
        (tables, "interval_table"),
        (fitted, "fit_life"),
        (learn, "spells_from"),
        (gather, "cars"),
        (keep, "replan"),
        (keep, "timeline"),
        (keep, "yearly_distance"),
    ):
        monkeypatch.setattr(place, name, forbidden)
    assert [reading.get(path).json() for path in paths] == before
