"""Tables of what was worked out: settings per kind, fitted lives, interval tables, forecasts."""

from datetime import date
from typing import Any

from sqlalchemy import JSON, Index, UniqueConstraint, text
from sqlmodel import Field

from api.storage.tables.base import Row


class KindSettings(Row, table=True):
    """How one fleet treats one part kind; absent fields mean the catalogue's own.

    Attributes:
        prior: "book" or "none".
        clocks: list of "distance" and "age"; None: the catalogue's clocks.
        planned, failure: costs in the fleet's currency.
        new_part_fault: chance (0..1) that a new part is bad or badly fitted.
        cap_value, cap_unit, cap_years: the fleet's own limit.
        max_risk: largest chance of failure (0..1) that is accepted from fitting to renewal.
        check_cost: of one look at the part.
        delay_share: share of its life (0..1) for which wear shows before it fails.
        check_sensitivity: chance (0..1) that a look finds wear that is there.
    """

    __table_args__ = (UniqueConstraint("fleet_id", "kind"),)

    kind: str
    prior: str = "book"
    clocks: list[str] | None = Field(default=None, sa_type=JSON)
    planned: float | None = None
    failure: float | None = None
    new_part_fault: float | None = None
    cap_value: float | None = None
    cap_unit: str | None = None
    cap_years: float | None = None
    max_risk: float | None = None
    check_cost: float | None = None
    delay_share: float | None = None
    check_sensitivity: float | None = None


class LifeModel(Row, table=True):
    """A life of one kind in one fleet, as the planner wrote it; exactly one per kind and circumstances is current.

    Attributes:
        circumstances: sorted ids of modifiers, a space between; "": the kind's own life, from which those in circumstances follow.
        source: "book" or "fitted".
        current: True for the model that answers are read from.
        content: the planner's own JSON.
        fingerprint: of the spells and settings that it was made from; the same fingerprint needs no refit.
        schema_number: version of ``content``.
    """

    __table_args__ = (
        Index(
            "uq_life_model_current",
            "fleet_id",
            "kind",
            "circumstances",
            unique=True,
            sqlite_where=text("current"),
            postgresql_where=text("current"),
        ),
    )

    kind: str
    circumstances: str = ""
    source: str
    current: bool = True
    content: dict[str, Any] = Field(sa_type=JSON)
    fingerprint: str
    schema_number: int


class IntervalTable(Row, table=True):
    """Intervals of one model by yearly distance.

    Attributes:
        fingerprint: of the costs, caps and limits that it was made with.
    """

    __table_args__ = (UniqueConstraint("model_id", "fingerprint"),)

    model_id: str = Field(foreign_key="life_model.id", ondelete="CASCADE")
    content: dict[str, Any] = Field(sa_type=JSON)
    fingerprint: str


class Forecast(Row, table=True):
    """When one part in service comes due; refreshed with whatever changes it, never made by a read.

    Attributes:
        circumstances: under which its life stands, as `LifeModel` has them; "": the usual ones.
        due_earliest, due_likely, due_latest: the window; None: never (run to failure).
        decides: "distance", "age", "cap", "risk limit" or "run to failure".
        as_of: day for which the row was worked out.
        reason: in words.
        coefficients: what closed-form arithmetic at read time needs.
    """

    __table_args__ = (
        Index("ix_forecast_fleet_id_due_likely_id", "fleet_id", "due_likely", "id"),
        Index("ix_forecast_fleet_id_vehicle_id", "fleet_id", "vehicle_id"),
        Index("ix_forecast_fleet_id_kind_circumstances", "fleet_id", "kind", "circumstances"),
    )

    fitment_id: str = Field(foreign_key="fitment.id", ondelete="CASCADE", unique=True)
    vehicle_id: str = Field(foreign_key="vehicle.id", ondelete="CASCADE")
    model_id: str | None = Field(default=None, foreign_key="life_model.id", ondelete="SET NULL", index=True)
    kind: str
    circumstances: str = ""
    due_earliest: date | None = None
    due_likely: date | None = None
    due_latest: date | None = None
    decides: str
    run_to_failure: bool = False
    as_of: date
    reason: str
    coefficients: dict[str, Any] = Field(sa_type=JSON)
