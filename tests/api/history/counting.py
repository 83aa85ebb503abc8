"""How many rows one fleet has in each table, and what its cars' rows say: for "nothing half-written"."""

from sqlmodel import select

from api.storage import tables
from api.storage.session import reading


def rows_of(fleet):
    """Every row of the fleet as plain values, by table; keys, jobs and kept answers left out."""
    kept = (
        tables.Vehicle, tables.OdometerReading, tables.VehicleUsage, tables.Fitment, tables.Inspection, tables.Repair,
        tables.Removal, tables.KindSettings, tables.LifeModel, tables.IntervalTable, tables.Forecast,
    )  # fmt: skip
    with reading(fleet.service.database) as session:
        return {
            table.__name__: sorted(
                (row.model_dump() for row in session.exec(select(table).where(table.fleet_id == fleet.id))),
                key=lambda row: row["id"],
            )
            for table in kept
        }
