"""Bytes of a file as text: which encoding it is in, and rows of CSV or JSON Lines, one after the other."""

from __future__ import annotations

import codecs
import csv
import io
from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING, Any, Literal

from pydantic_core import from_json

from api.problems import Malformed

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

Encoding = Literal["utf-8", "utf-16", "cp1252", "latin-1"]
Separator = Literal[",", ";", "\t", "|"]

SAMPLE_BYTES = 262_144
"""How much of a file is looked at to tell its encoding and its separator."""

LONGEST_LINE = 1_000_000
"""Characters of one row that are taken."""

_ARCHIVES = {b"PK\x03\x04": "a zip archive or a spreadsheet", b"\x1f\x8b": "a gzip archive", b"BZh": "a bzip2 archive",
             b"\xfd7zXZ": "an xz archive", b"\x28\xb5\x2f\xfd": "a zstd archive", b"%PDF": "a PDF", b"\xd0\xcf\x11\xe0": "a spreadsheet"}  # fmt: skip


_LONE = "wearwright.lone"
codecs.register_error(_LONE, lambda error: ("\udcff", getattr(error, "end", 0)))


_MARKS = {
    codecs.BOM_UTF8: "utf-8-sig",
    codecs.BOM_UTF16_LE: "utf-16-le",
    codecs.BOM_UTF16_BE: "utf-16-be",
}


class Pieces(io.RawIOBase):
    """Pieces of a file, one after the other, as one stream; one piece at a time is in memory.

    A line that goes on and on is broken off, so that whoever reads lines never holds more than a few pieces.

    Args:
        pieces: of the file.
        line_end: how a line ends, in the file's encoding.
    """

    def __init__(self, pieces: Iterable[bytes], line_end: bytes) -> None:
        self._pieces = _broken_off(pieces, line_end)
        self._rest = memoryview(b"")

    def readable(self) -> bool:
        """It is there to be read."""
        return True

    def readinto(self, buffer: Any) -> int:
        """Fill a buffer as far as the present piece goes."""
        while not self._rest:
            piece = next(self._pieces, None)
            if piece is None:
                return 0
            self._rest = memoryview(piece)
        count = min(len(buffer), len(self._rest))
        buffer[:count] = self._rest[:count]
        self._rest = self._rest[count:]
        return count


def _broken_off(pieces: Iterable[bytes], line_end: bytes) -> Iterator[bytes]:
    """The pieces without a byte order mark of UTF-16; of a line that goes on for so many bytes, only its beginning."""
    since, seen, dropping = 0, 0, False
    for number, whole in enumerate(pieces):
        piece = whole
        if (
            number == 0
            and whole.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
            and len(line_end) == 2
        ):
            piece = whole[2:]
        before, seen = seen, seen + len(whole)
        if dropping:
            end = _first_end(piece, line_end, before)
            if end < 0:
                continue
            piece, since, dropping = piece[end + len(line_end) :], 0, False
        at = piece.rfind(line_end)
        since = since + len(piece) if at < 0 else len(piece) - at
        yield piece
        if since > LONGEST_LINE and seen % len(line_end) == 0:
            yield bytes(len(line_end)) + line_end  # a NUL: what stands before it is no whole row
            dropping = True


def _first_end(piece: bytes, line_end: bytes, before: int) -> int:
    """Where the first line of a piece ends, its characters counted from the file's beginning; -1: nowhere."""
    at = piece.find(line_end)
    while at >= 0 and (before + at) % len(line_end):
        at = piece.find(line_end, at + 1)
    return at


@dataclass(frozen=True)
class Row:
    """One row of a file.

    Attributes:
        cells: CSV: one text for each column; JSON Lines: the object, or None where the line is none.
        fault: in words, why it cannot be read; empty if it can.
    """

    cells: Any
    fault: str = ""


def encoding_of(sample: bytes, declared: Encoding | None) -> str:
    """The codec of a text file.

    A byte order mark decides; then what was declared; then whether the sample is UTF-8; else it is taken for cp1252.

    Args:
        sample: the first bytes; may end within a character.
        declared: what the sender says.

    Raises:
        Malformed: it is no text file.
    """
    for mark, what in _ARCHIVES.items():
        if sample.startswith(mark):
            raise Malformed("content", "a plain text file, CSV or JSON Lines", what)
    marked = next((codec for mark, codec in _MARKS.items() if sample.startswith(mark)), None)
    if marked is not None:
        return marked
    if declared == "utf-16" or (declared is None and _looks_wide(sample)):
        return "utf-16-be" if sample[:1] == b"\x00" else "utf-16-le"
    if declared is not None:
        return declared
    try:
        codecs.getincrementaldecoder("utf-8")().decode(sample)
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def _looks_wide(sample: bytes) -> bool:
    """Every other byte of Latin text in UTF-16 is zero."""
    return len(sample) >= 4 and (sample[1:64:2].strip(b"\x00") == b"" or sample[0:64:2].strip(b"\x00") == b"")


def as_text(pieces: Iterable[bytes], codec: str) -> io.TextIOWrapper:
    """The file as text; bytes that the codec does not know become signs that no text may hold."""
    errors = _LONE if codec.startswith("utf-16") else "surrogateescape"
    line_end = {"utf-16-be": b"\x00\n", "utf-16-le": b"\n\x00"}.get(codec, b"\n")
    raw = io.BufferedReader(Pieces(pieces, line_end), 1 << 18)
    return io.TextIOWrapper(raw, encoding=codec, errors=errors, newline="")


def separator_of(sample: str) -> Separator:
    """The sign between the columns: the one that the first line has most of."""
    head = sample.partition("\n")[0]
    signs: tuple[Separator, ...] = (",", ";", "\t", "|")
    return max(signs, key=head.count)


def csv_rows(text: io.TextIOWrapper, separator: str) -> Iterator[tuple[int, list[str] | Row]]:
    """Rows of CSV, the head first, each with its number and its texts, or with its fault.

    Rows are numbered as a spreadsheet does: the file's first row is 1, an empty one counts (and is left out here), and a
    cell over several lines is in one row.
    """
    csv.field_size_limit(LONGEST_LINE)
    reader, number = csv.reader(text, delimiter=separator, strict=True), 0
    while True:
        begun = reader.line_num + 1
        try:
            for number, cells in enumerate(reader, number + 1):  # noqa: B020 - it goes on from where it was
                if cells:
                    yield number, cells
        except csv.Error as error:
            number += 1
            yield number, Row(None, f"{error}, in lines {begun} to {reader.line_num}")
        else:
            return


def json_rows(text: io.TextIOWrapper) -> Iterator[tuple[int, Row]]:
    """Rows of JSON Lines with the numbers of their lines; empty lines count and are left out."""
    for number in count(1):
        line = text.readline(LONGEST_LINE)
        if not line:
            return
        if not line.endswith("\n") and len(line) >= LONGEST_LINE:
            while (rest := text.readline(LONGEST_LINE)) and not rest.endswith("\n"):
                pass
            yield number, Row(None, f"a line of more than {LONGEST_LINE:,} characters")
        elif not line.isspace():
            yield number, _json_row(line)


def _json_row(line: str) -> Row:
    try:
        found = from_json(line.encode(), allow_inf_nan=False)
    except UnicodeEncodeError:
        return Row(None, "bytes that are no text in the file's encoding")
    except (ValueError, RecursionError) as error:
        return Row(None, str(error))
    return Row(found) if isinstance(found, dict) else Row(None, f"{type(found).__name__}, not an object")
