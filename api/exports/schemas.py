"""Answers for exports."""

from pydantic import Field

from api.imports.fields import RecordKind
from api.schemas import Answer


class ExportOut(Answer):
    """A kind of record that can be had as a file."""

    kind: RecordKind
    address: str
    columns: list[str] = Field(description="of CSV, in order; an import takes them as they are")
