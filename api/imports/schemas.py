"""Bodies and answers for bulk imports."""

from datetime import datetime
from typing import Annotated, Literal

from pydantic import Field

from api.imports.cells import DayStyle
from api.imports.fields import RecordKind
from api.imports.texts import Encoding, Separator
from api.schemas import Answer, Body, ExternalRef
from planner.units import DistanceUnit

ColumnName = Annotated[str, Field(min_length=1, max_length=200)]

State = Literal[
    "open", "queued", "reading", "checking", "clearing", "shown", "checked", "refused", "cancelled"
]


class ImportOptions(Body):
    """How a file is to be read, and what is to become of it."""

    kind: RecordKind = Field(description="which records the file holds, one in each row")
    format: Literal["csv", "jsonl"] = Field(default="csv", description="CSV with a head, or JSON Lines")
    mapping: dict[ColumnName, ColumnName | None] = Field(
        default_factory=dict,
        max_length=200,
        description="the file's own names of columns, each with what it gives (reading.value, reading.mi, vehicle_ref); null: leave it aside",
        examples=[{"car": "vehicle_ref", "odo_miles": "reading.mi", "clerk": None}],
    )
    unknown_columns: Literal["refuse", "leave aside"] = Field(
        default="refuse", description="what to do with columns that nobody has named"
    )
    bad_rows: Literal["refuse all", "skip"] = Field(
        default="refuse all", description="whether one bad row keeps all out, or only itself"
    )
    dry_run: bool = Field(default=False, description="judge the whole file and store nothing")
    unit: DistanceUnit | None = Field(default=None, description="of distances that come without one")
    days: DayStyle = Field(default="iso", description="how days are written in CSV")
    decimal_comma: bool = Field(default=False, description="CSV with 12,5 for 12.5")
    encoding: Encoding | None = Field(
        default=None, description="null: by byte order mark, else UTF-8 where it is, else cp1252"
    )
    separator: Separator | None = Field(default=None, description="null: what the head has most of")


class ImportCreate(ImportOptions):
    """How a file is to be read, and what is to become of it. The file itself follows under ``…/content``."""

    external_ref: ExternalRef | None = None


class ImportRows(Answer):
    """What became of the rows."""

    read: int
    new: int
    changed: int = Field(description="stored records that now say what the file says")
    same: int = Field(description="stored already, and the same")
    bad: int


class ImportColumn(Answer):
    """A column of the file."""

    column: str
    gives: str | None = Field(description="null: left aside")


class UnknownColumn(Answer):
    """A column that nobody has named."""

    column: str
    suggestions: list[str] = Field(description="what it may give, the likeliest first")


class ImportOut(Answer):
    """One file on its way in.

    Attributes:
        state: open: waits for its file; shown: every good row is there for all to see; checked: a dry run's end.
    """

    id: str
    kind: RecordKind
    state: State
    external_ref: str | None
    options: ImportOptions
    encoding: str | None = Field(description="what the file was read as")
    separator: str | None
    columns: list[ImportColumn] = Field(description="of CSV, once its head is read")
    unknown_columns: list[UnknownColumn]
    file_bytes: int | None
    rows: ImportRows
    job_id: str | None
    refresh_job_id: str | None = Field(
        description="the job that brings the cars' forecasts up to date afterwards"
    )
    created_at: datetime
    shown_at: datetime | None
