"""Take one removal-without-cure out of the fleet's papers and dates move: the answers come from the records."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

import pytest

from api import serving
from api.client import WearwrightClient
from api.demo.records import FleetRecords
from api.demo.sending import refit, register
from api.demo.service import Service
from api.settings import Settings
from api.shipped import shipped

MARGERY = "QD13"
AS_OF = date(2026, 11, 14)


@dataclass(frozen=True)
class Seen:
    """What one fleet's service says about thermostats."""

    life: dict
    due: dict[str, dict]


def thermostats(records: FleetRecords) -> FleetRecords:
    """Only the thermostats, of the cars that have a record of one."""
    parts = tuple(line for line in records.fitments if line["kind"] == "thermostat")
    kept = {line["external_ref"] for line in parts}
    cars = records.of_cars({line["vehicle"] for line in parts})
    return FleetRecords(
        vehicles=cars.vehicles,
        odometer_readings=cars.odometer_readings,
        fitments=parts,
        inspections=tuple(line for line in records.inspections if line["fitment"] in kept),
        repairs=(),
        removals=tuple(line for line in records.removals if line["fitment"] in kept),
        fault_findings=(),
    )


RECORDS = thermostats(FleetRecords.load(shipped("seed_data")))
OLD, NEW = [line["external_ref"] for line in RECORDS.fitments if line["vehicle"] == MARGERY]
(REMOVAL,) = [line["external_ref"] for line in RECORDS.removals if line["fitment"] == OLD]


def without(records: FleetRecords) -> FleetRecords:
    assert any(
        (line["external_ref"], line["reason"], line.get("cured")) == (REMOVAL, "on suspicion", False)
        for line in records.removals
    )
    return records.without_removal(REMOVAL)


def as_a_failure(records: FleetRecords) -> FleetRecords:
    failed = {"reason": "failed, confirmed", "cured": True}
    told = tuple(line | failed if line["external_ref"] == REMOVAL else line for line in records.removals)
    return replace(records, removals=told)


def seen(service: Service, database, name: str, records: FleetRecords) -> Seen:
    order = serving.KeyOrder(
        fleet=name, scope="write", label="", days=None, time_zone="Europe/London", currency="GBP"
    )
    key = serving.create_key(Settings.for_file(database), order)
    with WearwrightClient(service.address, key) as client:
        ids = register(client, records)
        (done,) = refit(client, ["thermostat"])
        assert done.went_well, done.job
        refs = {fitment_id: ref for ref, fitment_id in ids.fitments.items()}
        due = {
            refs[item["fitment_id"]]: item
            for car in ids.vehicles.values()
            for item in client.schedule(car, as_of=AS_OF, horizon_years=10)["items"]
        }
        return Seen(client.life("thermostat"), due)


@pytest.fixture(scope="module")
def fleets(tmp_path_factory) -> dict[str, Seen]:
    folder = tmp_path_factory.mktemp("records")
    database = folder / "fleets.db"
    versions = {"as recorded": RECORDS, "without": without(RECORDS), "as a failure": as_a_failure(RECORDS)}
    with Service(database, folder / "service.log") as service:
        return {name: seen(service, database, name, version) for name, version in versions.items()}


def likely(seen: Seen, fitment: str) -> date:
    return date.fromisoformat(seen.due[fitment]["window"]["likely"])


def others(fleets) -> list[str]:
    """Thermostats of other cars that are not due yet in any version: there the day can be seen to move."""
    common = set.intersection(*(set(seen.due) for seen in fleets.values()))
    return sorted(
        ref
        for ref in common - {OLD, NEW}
        if all(seen.due[ref]["window"]["likely"] and likely(seen, ref) > AS_OF for seen in fleets.values())
    )


def test_with_the_removal_the_new_thermostat_is_planned_and_the_old_one_is_gone(fleets):
    due = fleets["as recorded"].due
    assert OLD not in due
    assert due[NEW]["status"] != "due now"


def test_without_the_removal_the_old_thermostat_is_still_there_and_due_years_earlier(fleets):
    assert fleets["without"].due[OLD]["status"] == "due now"
    assert (likely(fleets["as recorded"], NEW) - likely(fleets["without"], OLD)).days > 365


def test_without_the_removal_it_is_taken_as_gone_by_the_day_of_the_new_one_and_says_so(fleets):
    """It came off still good on the day on which the new one went in: what is learnt of thermostats is the same."""
    assert others(fleets)
    for ref in others(fleets):
        assert likely(fleets["without"], ref) == likely(fleets["as recorded"], ref), ref
    assert "no removal of this one is on record" in fleets["without"].due[OLD]["reason"]


def test_read_as_a_failure_the_same_removal_would_bring_the_other_cars_dates_forward(fleets):
    assert others(fleets)
    for ref in others(fleets):
        assert likely(fleets["as a failure"], ref) < likely(fleets["as recorded"], ref), ref


def test_a_removal_without_cure_counts_as_a_history_and_not_as_a_failure(fleets):
    def evidence(name):
        found = fleets[name].due[NEW]["evidence"]
        return found["histories"], found["failures"]

    histories, failures = evidence("as recorded")
    assert evidence("as a failure") == pytest.approx((histories, failures + 1), abs=0.02)
    assert evidence("without")[1] == pytest.approx(failures, abs=0.02)
