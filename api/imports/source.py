"""A stored file as rows: pieces into text, head into columns, what was found in it reported."""

from __future__ import annotations

import io
from itertools import islice
from typing import TYPE_CHECKING, Any

from api.imports import naming, shapes, store, texts
from api.imports.cells import Writing
from api.imports.fields import kinds
from api.imports.schemas import ImportOptions
from api.problems import Malformed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from api.imports.shapes import Columns
    from api.jobs import Sessions
    from api.storage.tables import BulkImport

ROWS_AT_ONCE = 4_000
"""So that no transaction holds others up for more than a part of a second."""


class Source:
    """The file of one import.

    Args:
        sessions: to read its pieces with.
        row: the import.

    Attributes:
        options: how it is to be read.
        writing: how its values are written.
        report: what was found in its head, for the import's answer.

    Raises:
        Malformed: the file is no text, or its head cannot be read.
    """

    def __init__(self, sessions: Sessions, row: BulkImport) -> None:
        self.row = row
        self.kind = kinds()[row.kind]
        self.options = ImportOptions.model_validate(row.options)
        text = self.options.format == "csv"
        self.writing = Writing(text, self.options.days, self.options.decimal_comma)
        self._sessions = sessions
        sample = self._piece(0)[: texts.SAMPLE_BYTES]
        codec = texts.encoding_of(sample, self.options.encoding)
        self._text = texts.as_text(self._pieces(), codec)
        self.report: dict[str, Any] = {"encoding": codec}
        self._names: tuple[str | None, ...] = ()
        if text:
            head = io.TextIOWrapper(io.BytesIO(sample), codec, errors="replace").read(texts.LONGEST_LINE)
            separator = self.options.separator or texts.separator_of(head)
            self._rows: Iterator[Any] = texts.csv_rows(self._text, separator)
            self._read_head(separator)
        else:
            self._rows = texts.json_rows(self._text)

    def columns(self, skip: int) -> Iterator[Columns]:
        """The file's rows after the first `skip`, some thousand at a time.

        Raises:
            Malformed: from some row on the file cannot be read.
        """
        numbered = islice(self._rows, skip, None)
        while some := list(islice(numbered, ROWS_AT_ONCE)):
            if self.writing.text:
                found = shapes.csv_columns(some, self._names)
            else:
                aside = self.options.unknown_columns == "leave aside"
                found = shapes.json_columns(some, self.kind, self.options.mapping, leave_aside=aside)
            shapes.with_units(found, self.kind, self.options.unit)
            yield found

    def _read_head(self, separator: str) -> None:
        _, head = next(self._rows, (0, None))
        if not isinstance(head, list):
            got = "an empty file" if head is None else head.fault
            raise Malformed("content", "a head with names of columns", got)
        found = naming.columns_of(self.kind, head, self.options.mapping)
        names = [name.strip() for name in head]
        self._names = found.names
        self.report |= {
            "separator": separator,
            "columns": [
                {"column": name[:200], "gives": gives} for name, gives in zip(names, found.names, strict=True)
            ],
            "unknown_columns": [
                {"column": name[:200], "suggestions": near} for name, near in found.unknown.items()
            ],
        }

    def refuse_unknown(self) -> None:
        """Refuse columns that nobody has named, unless they may be left aside.

        Raises:
            Malformed: naming each, with what it may give.
        """
        unknown = self.report.get("unknown_columns", [])
        if self.options.unknown_columns == "refuse" and unknown:
            raise Malformed.of([_unnamed(one["column"], one["suggestions"]) for one in unknown])

    def _pieces(self) -> Iterator[bytes]:
        number = 0
        while piece := self._piece(number):
            yield piece
            number += 1

    def _piece(self, number: int) -> bytes:
        with self._sessions.reading() as session:
            return store.parts(session, self.row, number) or b""


def _unnamed(column: str, suggestions: list[str]) -> dict[str, str]:
    near = f" (near it: {', '.join(suggestions)})" if suggestions else ""
    wanted = f"a known name or one in the mapping, null to leave it aside{near}"
    return {"field": f"mapping.{column}", "wanted": wanted, "got": "a column that nobody has named"}
