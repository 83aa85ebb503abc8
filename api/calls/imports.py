"""The client's calls about files: bulk imports and exports, of any length, never whole in memory."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from api.calls.jobs import JobCalls

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from api.calls.transport import Json

_PIECE_BYTES = 1 << 16


class ImportCalls(JobCalls):
    """One method per route of imports and exports, and two that do a whole file."""

    def add_import(self, body: Mapping[str, Any]) -> Json:
        """Say how a file is to be read; send it with `send_import_content`."""
        return self._post("/v1/imports", body)

    def send_import_content(self, import_id: str, content: Path | bytes) -> Json:
        """Send an import's file piece by piece; the answer names the job that takes it in."""
        path = f"/v1/imports/{import_id}/content"
        return self._object(self._wire.upload(path, lambda: _pieces(content)).json())

    def imports(self, *, limit: int | None = None) -> Iterator[Json]:
        """The fleet's imports, latest first."""
        return self._wire.pages("/v1/imports", {"limit": limit})

    def import_(self, import_id: str) -> Json:
        """One import: how far it is, what its columns give, what became of its rows."""
        return self._get(f"/v1/imports/{import_id}")

    def import_errors(self, import_id: str, *, file_format: str = "csv") -> str:
        """What is wrong with which row: row, field, wanted, got, as CSV or JSON Lines."""
        query = {"format": file_format}
        return self._wire.send("GET", f"/v1/imports/{import_id}/errors", query=query).text

    def exports(self) -> Iterator[Json]:
        """The kinds of records that can be had as files, parents before what belongs to them."""
        return self._wire.pages("/v1/exports")

    def export(self, kind: str, *, file_format: str = "csv") -> Iterator[bytes]:
        """Every record of a kind as the bytes of one file, as they come."""
        return self._wire.download(f"/v1/exports/{kind}", {"format": file_format})

    def import_file(
        self,
        path: Path | str,
        kind: str,
        *,
        mapping: Mapping[str, str | None] | None = None,
        seconds: float = 3600.0,
        **options: Any,
    ) -> Json:
        """Send a file and wait until it is taken in, or not.

        Args:
            path: of CSV (with a head), or of JSON Lines where it ends in .jsonl or .ndjson.
            kind: of the records in it: "vehicles", "odometer-readings", "fitments", "inspections", "repairs", "removals".
            mapping: what the file's own columns give ({"odo_miles": "reading.mi"}); None: leave it aside.
            seconds: how long to wait.
            options: further ones of the body of `add_import` (bad_rows, dry_run, unit, days, encoding …).

        Returns:
            The import. Its `state` is "shown" (taken in), "checked" (a dry run), "refused" or "cancelled"; with
            `rows.bad`, `import_errors` names them.

        Raises:
            ProblemError: the file cannot be sent.
            TimeoutError: it had not ended after `seconds`.
        """
        file = Path(path)
        if file.suffix in {".jsonl", ".ndjson"}:
            options.setdefault("format", "jsonl")
        made = self.add_import({"kind": kind, "mapping": dict(mapping or {}), **options})
        sent = self.send_import_content(made["id"], file)
        self.wait_for_job(sent["job_id"], seconds=seconds)
        return self.import_(made["id"])

    def export_file(self, kind: str, path: Path | str) -> int:
        """Write every record of a kind into a file, CSV or by its ending JSON Lines; its size in bytes."""
        file = Path(path)
        file_format = "jsonl" if file.suffix in {".jsonl", ".ndjson"} else "csv"
        with file.open("wb") as out:
            return sum(out.write(some) for some in self.export(kind, file_format=file_format))


def _pieces(content: Path | bytes) -> Iterator[bytes]:
    if isinstance(content, bytes):
        yield content
        return
    with content.open("rb") as file:
        while piece := file.read(_PIECE_BYTES):
            yield piece
