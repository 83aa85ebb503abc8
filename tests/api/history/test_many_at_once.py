"""Writers at the same time: every record is kept, one life is in force per kind, and each part has one forecast."""

from concurrent.futures import ThreadPoolExecutor

from tests.api.history.counting import rows_of
from tests.api.history.making import car, fitment, odometer


def test_first_parts_of_a_kind_on_many_cars(fleet, client):
    vehicles = [car(client, name=f"car {n}") for n in range(6)]
    with ThreadPoolExecutor(6) as pool:
        parts = list(pool.map(lambda vehicle: fitment(client, vehicle, "thermostat", "2019-01-01"), vehicles))
    rows = rows_of(fleet)
    (model,) = rows["LifeModel"]
    assert len(rows["IntervalTable"]) == 1
    assert {row["fitment_id"] for row in rows["Forecast"]} == set(parts)
    assert {row["model_id"] for row in rows["Forecast"]} == {model["id"]}


def test_readings_and_parts_of_one_car(fleet, client):
    vehicle = car(client)

    def write(number):
        odometer(client, vehicle, f"20{15 + number}-01-01", 50_000 + 2_000 * number, dial_digits=6)
        return fitment(client, vehicle, "thermostat", f"20{15 + number}-02-01", position=f"place {number}")

    with ThreadPoolExecutor(5) as pool:
        parts = list(pool.map(write, range(5)))
    rows = rows_of(fleet)
    assert [row["km_total"] for row in sorted(rows["OdometerReading"], key=lambda row: row["read_on"])] == [
        50_000 + 2_000 * number for number in range(5)
    ]
    assert {row["fitment_id"] for row in rows["Forecast"]} == set(parts)
    odometers = {row["coefficients"]["odometer_km"] for row in rows["Forecast"]}
    assert len(odometers) == 1, "each forecast was made from all of the readings"
