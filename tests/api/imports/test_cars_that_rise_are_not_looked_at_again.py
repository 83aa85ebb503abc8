"""Readings that plainly rise in their file are believed without asking the database; the answer is that of asking for all."""

import pytest

from api.bridge import agreement
from api.imports import rising
from tests.api.imports.sending import send

CARS = (
    "rises",
    "falls",
    "leaps",
    "comes late",
    "same day",
    "new dial",
    "stood higher",
    "stood lower",
    "fitting higher",
)
BEFORE = "vehicle_ref,read_on,reading.km\nstood higher,2019-12-01,50000\nstood lower,2015-01-01,900\n"
FITTING = "vehicle_ref,kind,fitted_on,odometer.value,odometer.unit\nfitting higher,coolant_hose,2019-12-01,50000,km\n"
STEPS = {
    "rises": [("2020-01-01", 1000), ("2021-01-01", 5000), ("2022-01-01", 9000)],
    "falls": [("2020-01-01", 1000), ("2021-01-01", 5000), ("2022-01-01", 4000)],
    "leaps": [("2020-01-01", 1000), ("2020-01-05", 900000)],
    "comes late": [("2021-01-01", 5000), ("2020-01-01", 1000), ("2022-01-01", 9000)],
    "same day": [("2020-01-01", 5000), ("2020-01-01", 4990)],
    "new dial": [("2020-01-01", 5000), ("2021-01-01", 10)],
    "stood higher": [("2020-01-01", 1000), ("2021-01-01", 5000)],
    "stood lower": [("2020-01-01", 1000), ("2021-01-01", 5000)],
    "fitting higher": [("2020-01-01", 1000), ("2021-01-01", 5000)],
}
PLAIN = {"rises"}
STEPS_AT = dict(enumerate((car for car, steps in STEPS.items() for _ in steps), start=2))
"""Cars by the numbers of their rows."""


def file():
    lines = [
        f"{car},{day},{km},{'true' if car == 'new dial' and number else ''}"
        for car, steps in STEPS.items()
        for number, (day, km) in enumerate(steps)
    ]
    return "\n".join(["vehicle_ref,read_on,reading.km,new_instrument", *lines, ""])


@pytest.fixture
def answers(fleet, monkeypatch):
    """State, counts and errors of the file for whoever remembers so many cars; and the cars that were asked about."""
    head = "external_ref,name,distance_unit\n"
    assert send(fleet, "vehicles", head + "".join(f"{car},{car},km\n" for car in CARS)).state == "shown"
    assert send(fleet, "odometer-readings", BEFORE).state == "shown"
    assert send(fleet, "fitments", FITTING).state == "shown"
    named = {
        car["id"]: car["external_ref"] for car in fleet.client("read").get("/v1/vehicles").json()["items"]
    }
    asked = set()

    def spied(session, fleet_id, ids):
        asked.update(named[one] for one in ids)
        return agreement.store.not_plainly_rising(session, fleet_id, ids)

    monkeypatch.setattr(agreement, "not_plainly_rising", spied)

    def of(most):
        monkeypatch.setattr(rising, "MOST_CARS", most)
        asked.clear()
        sent = send(fleet, "odometer-readings", file(), dry_run=True, bad_rows="skip")
        return (sent.state, sent.rows, sent.errors), set(asked)

    return of


def test_only_doubtful_cars_are_asked_about_and_the_answer_is_the_same(answers):
    remembered, asked = answers(100_000)
    assert asked == set(CARS) - PLAIN
    assert answers(0) == (remembered, set(CARS))
    refused = {STEPS_AT[int(line.split(",")[0])] for line in remembered[2]}
    assert refused == {"falls", "leaps", "stood higher", "fitting higher"}
