"""HTTP for bulk imports; the file itself is the one body that is neither JSON nor small."""

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Query, Request, Response, status
from fastapi.responses import StreamingResponse

from api.conventions import IfNoneMatch, RecordsAsked, page_of, send_tag, unless_held
from api.exports.writing import written
from api.imports import service, store
from api.imports.schemas import ImportCreate, ImportOut
from api.problems import WrongMedia
from api.schemas import Page
from api.security import Reader, Writer
from api.storage.session import ReadSession, WriteSession, database_of
from api.web.once import OnceRoute

router = APIRouter(prefix="/v1/imports", tags=["imports"], route_class=OnceRoute)

FileFormat = Annotated[Literal["csv", "jsonl"], Query(description="CSV, or JSON Lines")]

_TEXT = {"schema": {"type": "string"}}
FILE: dict[str, Any] = {"content": {"text/csv": _TEXT, "application/jsonl": _TEXT}}
"""A file in the document."""

_SOME_TEXT = {"schema": {"type": "string", "minLength": 1}}
_BODY = {
    "requestBody": {"required": True, "content": {"text/csv": _SOME_TEXT, "application/jsonl": _SOME_TEXT}}
}


@router.post("", status_code=status.HTTP_201_CREATED)
def create_import(body: ImportCreate, who: Writer, session: WriteSession, response: Response) -> ImportOut:
    """Say how a file is to be read; then send it to `…/content` of the answer's address."""
    row = service.create(session, who, body)
    response.headers["Location"] = f"/v1/imports/{row.id}"
    send_tag(response, row)
    return service.shown(session, row)


@router.put("/{import_id}/content", status_code=status.HTTP_202_ACCEPTED, openapi_extra=_BODY)
async def put_import_content(import_id: str, who: Writer, request: Request, response: Response) -> ImportOut:
    """Send the file as it is, of any length; a job takes it in, and nobody sees a row before all good ones are there.

    CSV with a head, or JSON Lines, as the import says; without a content encoding. The same file may be sent again
    where the answer was lost.
    """
    if request.headers.get("content-encoding", "identity").lower() != "identity":
        raise WrongMedia("send the file without a content encoding")
    settings = request.app.state.settings
    found = await service.take_file(
        database_of(request), who, import_id, request.stream(), settings.max_import_bytes
    )
    response.headers["Location"] = f"/v1/jobs/{found.job_id}"
    return found


@router.get("")
def list_imports(who: Reader, session: ReadSession, asked: RecordsAsked) -> Page[ImportOut]:
    """The fleet's imports, latest first."""
    rows = page_of(session, store.imports_of(who.fleet_id), asked)
    states = store.job_states(session, who.fleet_id, [row.job_id for row in rows if row.job_id])
    return Page(items=[service.as_answer(row, states) for row in rows])


@router.get("/{import_id}")
def read_import(
    import_id: str, who: Reader, session: ReadSession, response: Response, if_none_match: IfNoneMatch = None
) -> ImportOut:
    """One import: how far it is, what its columns give, what became of its rows."""
    row = service.found(session, who.fleet_id, import_id)
    unless_held(if_none_match, row)
    send_tag(response, row)
    return service.shown(session, row)


@router.get("/{import_id}/errors", response_class=StreamingResponse, responses={200: FILE})
def read_import_errors(
    import_id: str,
    who: Reader,
    session: ReadSession,
    file_format: Annotated[FileFormat, Query(alias="format")] = "csv",
) -> StreamingResponse:
    """What is wrong with which row, as a file: row, field, wanted, got; the first 10,000 faults.

    Rows are numbered as a spreadsheet shows the file: the head of CSV is row 1, the first record is row 2, empty rows
    count, a cell over several lines is in one row. Of JSON Lines it is the number of the line. Row 0 is the whole file.
    """
    row = service.found(session, who.fleet_id, import_id)
    faults = [
        {"row": fault.row_number, "field": fault.field, "wanted": fault.wanted, "got": fault.got}
        for fault in store.faults_of(session, row)
    ]
    return written(
        iter(faults), ("row", "field", "wanted", "got"), file_format, name=f"import-{row.id}-errors"
    )
