"""Records at the door: wrong values are refused with the field named in the trade's words."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from planner.errors import InputError, RecordError
from planner.history.records import (
    Distance,
    Fitment,
    Inspection,
    Measurement,
    OdometerReading,
    Removal,
    Repair,
    Vehicle,
)

KM = {"value": 52_000, "unit": "km"}


def miles(value):
    return {"value": value, "unit": "mi"}


@pytest.mark.parametrize(
    ("make", "field"),
    [
        (lambda: Distance(value=float("nan"), unit="km"), "value"),
        (lambda: Distance(value=float("inf"), unit="km"), "value"),
        (lambda: Distance(value=-1, unit="km"), "value"),
        (lambda: Distance(value=1, unit="furlong"), "unit"),
        (lambda: Distance(value=52_000_000, unit="km"), "value"),
        (lambda: Distance(value=4_000_000, unit="mi"), "value"),
        (lambda: Distance(value=1, unit="km", plus_minus=-5), "plus_minus"),
        (lambda: Distance(value=1), "unit"),
        (lambda: OdometerReading(read_on="2020-13-01", reading=KM), "read_on"),
        (lambda: OdometerReading(read_on="2020", reading=KM), "read_on"),
        (lambda: OdometerReading(read_on=datetime(2020, 1, 1, 8, 0), reading=KM), "read_on"),  # noqa: DTZ001 - refused
        (lambda: OdometerReading(read_on="2020-01-01", reading=miles(-3)), "reading.value"),
        (lambda: OdometerReading(read_on="2020-01-01", reading=miles(float("nan"))), "reading.value"),
        (lambda: OdometerReading(read_on="2020-01-01", reading=miles(123_456), dial_digits=5), "reading"),
        (lambda: OdometerReading(read_on="2020-01-01", reading=KM, rollovers=-1), "rollovers"),
        (lambda: OdometerReading(read_on="2020-01-01"), "reading"),
        (lambda: Vehicle(ref="a", name=""), "name"),
        (lambda: Vehicle(ref="a", name="x", colour="red"), "colour"),
        (lambda: Vehicle(ref="a", name="x", built="1971", joined_on="1960-01-01"), "joined_on"),
        (lambda: Fitment(ref="a", kind="x", fitted_on="some time"), "fitted_on"),
        (lambda: Fitment(ref="a", kind="x", condition="shiny"), "condition"),
        (lambda: Fitment(ref="a", kind="x", donor_km=4_000), "donor_km"),
        (lambda: Fitment(ref="a", kind="x", condition="second-hand", donor_years=400), "donor_years"),
        (lambda: Fitment(ref="a", kind="x", cap_km=0), "cap_km"),
        (lambda: Fitment(ref="a", kind="x", fitted_on="1990", made_on="1995"), "made_on"),
        (lambda: Inspection(inspected_on="2020-01-01", finding="fine"), "finding"),
        (lambda: Measurement(value=float("inf"), unit="mm"), "value"),
        (
            lambda: Inspection(
                inspected_on="2020-01-01", finding="good", measurement={"value": 4.0, "unit": ""}
            ),
            "measurement.unit",
        ),
        (lambda: Repair(repaired_on="2020-01-01", action="kicked"), "action"),
        (lambda: Removal(removed_on="1998", reason="bored of it"), "reason"),
        (lambda: Removal(removed_on="1998", reason="sold", changed_together=0), "changed_together"),
    ],
)
def test_wrong_values_name_their_field(make, field):
    with pytest.raises(RecordError) as refused:
        make()
    assert refused.value.field == field
    assert refused.value.wanted
    assert isinstance(refused.value, InputError)


def test_a_missing_value_says_that_it_is_required():
    with pytest.raises(RecordError, match="reading: wanted a value"):
        OdometerReading(read_on="2020-01-01")


@pytest.mark.parametrize(
    ("record", "field"),
    [
        (Removal(removed_on="2030", reason="sold"), "removal.removed_on"),
        (Inspection(inspected_on="2026-01-02", finding="good"), "removal.inspected_on"),
    ],
)
def test_days_after_today_are_refused(record, field):
    with pytest.raises(RecordError) as refused:
        record.refuse_future(date(2026, 1, 1), "removal.")
    assert refused.value.field == field


def test_a_rough_date_that_may_already_have_been_is_not_the_future():
    Removal(removed_on="2026", reason="sold").refuse_future(date(2026, 1, 1))


def test_miles_are_exact_and_records_survive_a_round_trip():
    assert Distance(value=1, unit="mi").km == 1.609344
    fitment = Fitment(ref="a", kind="rotor_arm", fitted_on="1998~", odometer=miles(52_000), made_on="1997-21")
    assert Fitment.read(fitment.model_dump()) == fitment
    assert Fitment.model_validate_json(fitment.model_dump_json()) == fitment


def test_records_are_frozen():
    with pytest.raises(ValueError, match="frozen"):
        Distance(value=1, unit="mi").value = 2
