"""Rows out as CSV or JSON Lines, some hundred at a time; no cell is one that a spreadsheet runs."""

from __future__ import annotations

import csv
import io
import json
from itertools import islice
from typing import TYPE_CHECKING, Any, Literal

from fastapi.responses import StreamingResponse

from api.imports.formulas import neutralised

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

_MEDIA = {"csv": "text/csv; charset=utf-8", "jsonl": "application/jsonl"}
_AT_ONCE = 500


def written(
    rows: Iterator[dict[str, Any]], columns: Sequence[str], file_format: Literal["csv", "jsonl"], *, name: str
) -> StreamingResponse:
    """Rows as a file to be kept.

    Args:
        rows: flat, by the name of the column; JSON Lines leaves out what is None and opens dotted names.
        columns: of CSV, in order.
        file_format: CSV in UTF-8 with a head, or JSON Lines.
        name: of the file, without its ending.
    """
    lines = csv_lines(rows, columns) if file_format == "csv" else json_lines(rows)
    headers = {"Content-Disposition": f'attachment; filename="{name}.{file_format}"'}
    return StreamingResponse(lines, media_type=_MEDIA[file_format], headers=headers)


def csv_lines(rows: Iterator[dict[str, Any]], columns: Sequence[str]) -> Iterator[str]:
    """The head, then the rows."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow(columns)
    while some := list(islice(rows, _AT_ONCE)):
        writer.writerows([[_cell(row.get(name)) for name in columns] for row in some])
        yield buffer.getvalue()
        buffer.seek(0)
        buffer.truncate()
    if rest := buffer.getvalue():
        yield rest


def json_lines(rows: Iterator[dict[str, Any]]) -> Iterator[str]:
    """One object in a line, parts of it opened, what is not there left out."""
    while some := list(islice(rows, _AT_ONCE)):
        yield "".join(json.dumps(_opened(row), ensure_ascii=False, default=str) + "\n" for row in some)


def _cell(value: Any) -> Any:
    if isinstance(value, list):
        value = " ".join(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    return neutralised(value) if isinstance(value, str) else "" if value is None else value


def _opened(row: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for path, value in row.items():
        if value is None:
            continue
        *parts, last = path.split(".")
        place = found
        for part in parts:
            place = place.setdefault(part, {})
        place[last] = value
    return found
