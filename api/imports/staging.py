"""Judged rows into the database, unseen: what they belong to is found, what is stored already is told from what is new."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any

from sqlalchemy.exc import IntegrityError

from api.imports import store
from api.imports.shapes import Fault
from api.imports.staged import store as staged
from api.problems import shown

if TYPE_CHECKING:
    from sqlmodel import Session

    from api.imports.fields import Kind
    from api.imports.rising import Rising
    from api.imports.rows import Judged
    from api.storage.tables import BulkImport

_REMEMBERED = 50_000
_OWN_ID = 36
"""Length of our own ids: a reference of that length may be one."""


@dataclass
class Counts:
    """What became of rows."""

    new: int = 0
    changed: int = 0
    same: int = 0
    bad: int = 0


@dataclass
class Stager:
    """Stages the rows of one file, some thousand at a time.

    Attributes:
        row: the import.
        kind: of its records.
        rising: told of readings as they are staged.
    """

    row: BulkImport
    kind: Kind
    rising: Rising
    _parents: dict[str, str] = field(default_factory=dict)
    _look_first: bool = True

    def stage(self, session: Session, judged: Judged) -> Counts:
        """Stage rows in the caller's transaction; faults found on the way are added to the rows' own."""
        if self.kind.parent is not None:
            self._find_parents(session, judged)
        self._drop_twins(judged)
        if self.kind.name == "odometer-readings":
            self.rising.meet(session, self.row.fleet_id, set(self._owners(judged)))
        counts = Counts()
        if (
            self._look_first
            or any(len(ref) == _OWN_ID for ref in judged.refs)
            or self.kind.name == "removals"
        ):
            self._split(session, judged, counts)
        if not self._inserted(session, judged):
            self._parents.clear()  # a reference is taken, or a car is gone since it was found
            if self.kind.parent is not None:
                self._find_parents(session, judged)
            self._split(session, judged, counts)
            self._insert(session, judged)
        counts.new = len(judged.numbers)
        if self.kind.name == "odometer-readings":
            self.rising.add(self._owners(judged), judged.values)
        self._look_first = counts.changed + counts.same > 0
        store.keep_faults(session, self.row, judged.faults)
        counts.bad = len({fault.row for fault in judged.faults})
        return counts

    def _inserted(self, session: Session, judged: Judged) -> bool:
        try:
            self._insert(session, judged)
        except IntegrityError:
            return False
        return True

    def _insert(self, session: Session, judged: Judged) -> None:
        count = len(judged.numbers)
        block = self.row.block
        columns: dict[str, list[Any]] = {
            "id": [f"{block}{number:08x}" for number in judged.numbers],
            "fleet_id": [self.row.fleet_id] * count,
            "version": [1] * count,
            "created_at": [self.row.created_at] * count,
            "updated_at": [self.row.created_at] * count,
            "external_ref": judged.refs,
            **judged.values,
        }
        if self.kind.parent is not None:
            columns[f"{self.kind.parent}_id"] = self._owners(judged)
        staged.insert_records(session, self.kind, columns)

    def _owners(self, judged: Judged) -> list[str]:
        """Ids of what the rows belong to."""
        return [self._parents[ref] for ref in judged.parents]

    def _find_parents(self, session: Session, judged: Judged) -> None:
        """Leave out rows whose car or fitment is not there, and removals of what is removed."""
        assert self.kind.parent is not None  # noqa: S101 - callers see to it
        if len(self._parents) > _REMEMBERED:
            self._parents.clear()
        new = set(judged.parents) - self._parents.keys()
        if new:
            self._parents |= staged.parents(session, self.row.fleet_id, self.kind.parent, new)
        lost = {ref for ref in new if ref not in self._parents}
        if lost:
            wanted = f"the external_ref or id of a {self.kind.parent} of this fleet"
            self._blame(
                judged,
                {
                    place: (f"{self.kind.parent}_ref", wanted, ref)
                    for place, ref in enumerate(judged.parents)
                    if ref in lost
                },
            )

    def _drop_twins(self, judged: Judged) -> None:
        """Leave out rows whose reference an earlier row of the same chunk has."""
        if len(set(judged.refs)) == len(judged.refs):
            return
        first: dict[str, int] = {}
        twins: dict[int, tuple[str, str, str]] = {}
        for place, ref in enumerate(judged.refs):
            if ref in first:
                twins[place] = _twin(ref, judged.numbers[first[ref]])
            first.setdefault(ref, place)
        self._blame(judged, twins)

    def _split(self, session: Session, judged: Judged, counts: Counts) -> None:
        """Take out the rows whose record is stored already, noting what is to change in it."""
        known = staged.records_named(session, self.row, self.kind, set(judged.refs))
        if self.kind.name == "removals":
            self._refuse_second_removals(session, judged, known)
        if not known:
            return
        ids = {record["id"] for record in known.values()}
        before = staged.matched(session, self.row, ids)
        blamed: dict[int, tuple[str, str, str]] = {}
        matches: dict[int, tuple[str, int, dict[str, Any] | None]] = {}
        seen: dict[str, int] = {match.record_id: match.row_number for match in before.values()}
        for place, ref in enumerate(judged.refs):
            record = known.get(ref)
            if record is None:
                continue
            number = judged.numbers[place]
            earlier = _row_of(self.row, record["id"]) or seen.get(record["id"])
            if earlier is not None:
                blamed[place] = _twin(ref, earlier)
            elif self._moved(record, judged, place):
                blamed[place] = (
                    f"{self.kind.parent}_ref",
                    "what the stored record belongs to",
                    judged.parents[place],
                )
            else:
                seen[record["id"]] = number
                matches[place] = (record["id"], number, _changes(record, judged, place))
        staged.keep_matches(session, self.row, list(matches.values()))
        counts.changed += sum(match[2] is not None for match in matches.values())
        counts.same += sum(match[2] is None for match in matches.values())
        self._blame(judged, blamed, also_out=set(matches))

    def _moved(self, record: dict[str, Any], judged: Judged, place: int) -> bool:
        if self.kind.parent is None:
            return False
        return bool(record[f"{self.kind.parent}_id"] != self._parents[judged.parents[place]])

    def _refuse_second_removals(
        self, session: Session, judged: Judged, known: dict[str, dict[str, Any]]
    ) -> None:
        """A fitment has one removal at most."""
        ids = {self._parents[ref] for ref in judged.parents}
        there = staged.removals_of(session, self.row, ids)
        blamed: dict[int, tuple[str, str, str]] = {}
        for place, (ref, parent) in enumerate(zip(judged.refs, judged.parents, strict=True)):
            fitment = self._parents[parent]
            own = known.get(ref, {}).get("id")
            if there.get(fitment, own) != own:
                blamed[place] = ("fitment_ref", "a fitment that has no removal yet", parent)
            there.setdefault(fitment, own or f"{self.row.block}{judged.numbers[place]:08x}")
        self._blame(judged, blamed)

    def _blame(
        self, judged: Judged, blamed: dict[int, tuple[str, str, str]], *, also_out: set[int] | None = None
    ) -> None:
        """Take rows out, and note what is wrong with some of them."""
        for place, (name, wanted, got) in blamed.items():
            judged.faults.append(Fault(judged.numbers[place], name, wanted, shown(got)))
        out = blamed.keys() | (also_out or set())
        if not out:
            return
        keep = [place for place in range(len(judged.numbers)) if place not in out]
        columns: list[list[Any]] = [judged.numbers, judged.parents, judged.refs, judged.named]
        for column in (*columns, *judged.values.values()):
            column[:] = [column[place] for place in keep]


def _twin(ref: str, earlier: int) -> tuple[str, str, str]:
    return "external_ref", f"one row for each record: row {earlier} has this reference already", ref


def _row_of(row: BulkImport, record_id: str) -> int | None:
    """The number of the row that staged a record; None if this import did not."""
    return int(record_id[-8:], 16) if record_id.startswith(row.block) else None


def _changes(record: dict[str, Any], judged: Judged, place: int) -> dict[str, Any] | None:
    """Columns in which a stored record is not as a row says, with their new values in JSON's types."""
    named = set(judged.named[place])
    if "reading_value" in named or "reading_unit" in named:
        named.add("km_total")
    for day in ("fitted", "removed"):
        if f"{day}_on" in named:
            named |= {f"{day}_earliest", f"{day}_likely", f"{day}_latest"}
    says = {name: column[place] for name, column in judged.values.items() if name in named}
    changed = {name: value for name, value in says.items() if record[name] != value}
    if not changed.keys() - {"km_total"}:
        return None
    return {name: value.isoformat() if isinstance(value, date) else value for name, value in changed.items()}
