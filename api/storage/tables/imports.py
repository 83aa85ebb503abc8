"""Tables of bulk imports: what was sent, how far it is, what could not be taken."""

from datetime import datetime
from typing import Any

from sqlalchemy import JSON, BigInteger, Index, LargeBinary, UniqueConstraint, text
from sqlmodel import Field

from api.storage.tables.base import Record, Table
from api.storage.types import UtcDateTime

BLOCK_LENGTH = 28
"""How many characters of a text UUID name the block that an import takes its rows' ids from; the others count rows."""


class BulkImport(Record, table=True):
    """One file of records of one kind on its way into a fleet.

    Its rows are written where all records are, in short transactions, under ids that begin with its `block`. While it
    is `hidden`, nobody sees rows of that block (`api.storage.hidden`); one change of this one row shows them all.

    Attributes:
        kind: of the records, as in their address ("odometer-readings").
        block: first characters of the ids of its rows.
        hidden: whether its rows are kept from everybody.
        phase: "open", "queued", "reading", "checking", "clearing", "shown", "checked", "refused" or "cancelled".
        options: how it is to be read, as asked.
        report: what was found in the file's head: columns, encoding, unknown names.
        upload: names the upload that is going on, or that was taken.
        file_bytes, file_digest: size of what was sent, and its SHA-256 in hex.
        job_id: the job that does it; None before the file is there.
        attempt: of that job; only the latest may write.
        rows_read: rows of the file that are dealt with.
        rows_new, rows_changed, rows_same, rows_bad: what became of them.
        shown_at: when its rows were shown.
        refresh_job_id: the job that brings the forecasts of its cars up to date afterwards.
    """

    __table_args__ = (
        UniqueConstraint("block"),
        UniqueConstraint("fleet_id", "external_ref"),
        Index("ix_bulk_import_fleet_id_created_at_id", "fleet_id", "created_at", "id"),
        Index(
            "ix_bulk_import_hidden",
            "block",
            sqlite_where=text("hidden"),
            postgresql_where=text("hidden"),
        ),
    )

    kind: str
    block: str
    hidden: bool = True
    phase: str = "open"
    options: dict[str, Any] = Field(sa_type=JSON)
    report: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    upload: str | None = None
    file_bytes: int | None = Field(default=None, sa_type=BigInteger)
    file_digest: str | None = None
    job_id: str | None = None
    attempt: int = 0
    rows_read: int = 0
    rows_new: int = 0
    rows_changed: int = 0
    rows_same: int = 0
    rows_bad: int = 0
    shown_at: datetime | None = Field(default=None, sa_type=UtcDateTime)
    refresh_job_id: str | None = None


class _OfImport(Table):
    """A row that belongs to an import, and goes with it."""

    import_id: str = Field(foreign_key="bulk_import.id", ondelete="CASCADE", primary_key=True)
    fleet_id: str = Field(foreign_key="fleet.id", ondelete="CASCADE", nullable=False)


class ImportPart(_OfImport, table=True):
    """A piece of the file, kept until the import has ended, where any worker can read it."""

    upload: str = Field(primary_key=True)
    number: int = Field(primary_key=True)
    content: bytes = Field(sa_type=LargeBinary)


class ImportMatch(_OfImport, table=True):
    """A stored record that a row of the file names.

    Attributes:
        record_id: the stored record.
        row_number: of the file.
        changes: columns that are to change when the import is shown; None: the row says what is stored.
        applied: whether they have changed.
    """

    record_id: str = Field(primary_key=True)
    row_number: int
    changes: dict[str, Any] | None = Field(default=None, sa_type=JSON(none_as_null=True))
    applied: bool = False


class ImportTouch(_OfImport, table=True):
    """A car whose records somebody else changed while an import was at work: it is looked at again before the end."""

    vehicle_id: str = Field(primary_key=True)


class ImportFault(_OfImport, table=True):
    """One thing wrong with one row of a file.

    Attributes:
        row_number: as a spreadsheet shows the file: the head of CSV is row 1; of JSON Lines the line; 0: the whole file.
        number: of the fault within the row.
        field, wanted, got: as in a problem document.
    """

    row_number: int = Field(primary_key=True)
    number: int = Field(primary_key=True)
    field: str
    wanted: str
    got: str
