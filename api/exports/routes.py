"""HTTP for exports: every record of a kind as one file, sent while it is read."""

from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import StreamingResponse

from api.exports import service
from api.exports.schemas import ExportOut
from api.exports.writing import written
from api.imports.fields import RecordKind, kinds
from api.imports.routes import FILE, FileFormat
from api.schemas import Page
from api.security import Reader
from api.storage.session import database_of

router = APIRouter(prefix="/v1/exports", tags=["exports"])


@router.get("")
def list_exports(who: Reader) -> Page[ExportOut]:  # noqa: ARG001 - whoever asks needs a key
    """What can be had as a file, parents before what belongs to them: an import takes the files in this order."""
    return Page(
        items=[
            ExportOut(kind=kind.name, address=f"/v1/exports/{kind.name}", columns=list(service.columns(kind)))
            for kind in kinds().values()
        ]
    )


@router.get("/{records}", response_class=StreamingResponse, responses={200: FILE})
def read_export(
    records: RecordKind,
    who: Reader,
    request: Request,
    file_format: Annotated[FileFormat, Query(alias="format")] = "csv",
) -> StreamingResponse:
    """Every record of one kind; a record without an `external_ref` goes by our own id, by which it is known again.

    In CSV, text that a spreadsheet would run as a formula has an apostrophe before it, which an import takes off again.
    """
    rows = service.rows(database_of(request), who.fleet_id, records)
    return written(rows, service.columns(kinds()[records]), file_format, name=records)
