"""What keepers complain of: which kinds are behind it in how many cases of a hundred, and when to stop driving."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from planner.catalogue.commons import look_up
from planner.catalogue.conditions import load_conditions
from planner.catalogue.loader import load_catalogue, package_commons, package_texts
from planner.catalogue.reading import Table, parse_toml
from planner.catalogue.values import SYSTEMS, Provenance, System

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from planner.catalogue.commons import Commons

LEAST_ELSE = 0.05
"""Least share of something else (judgement): nobody lists every cause."""


@dataclass(frozen=True, slots=True)
class Cause:
    """One line of a complaint's causes.

    Attributes:
        kinds: ids of the part kinds; several are alternatives, of which a car mostly has one.
        weight: relative weight, per 100 such complaints.
        systems: cars for which the line holds; empty means any.
        cohort: counts only for a car that is known to have the kind.
        note: what about the part it is; may be empty.
    """

    kinds: tuple[str, ...]
    weight: float
    systems: tuple[System, ...] = ()
    cohort: bool = False
    note: str = ""

    def on(self, system: System | None) -> list[str]:
        """Those of its kinds that a car of this system can have; all where the system is unknown."""
        return [kind for kind in self.kinds if load_catalogue()[kind].fits(system)]


@dataclass(frozen=True, slots=True)
class OtherCause:
    """A cause that is no wear part of the catalogue.

    Attributes:
        what: in words.
        weight: relative weight, per 100 such complaints.
        systems: cars for which it holds; empty means any.
    """

    what: str
    weight: float
    systems: tuple[System, ...] = ()


@dataclass(frozen=True, slots=True)
class Complaint:
    """A complaint in the keeper's words and what the book says of its causes.

    Attributes:
        id: short name, e.g. "misfire_when_warm".
        title: in words.
        conditions: ids of the conditions that the complaint itself holds; not to be counted a second time.
        stop_driving: whether the car should not be driven on.
        engine_dead: whether the engine does not run while the complaint is there.
        warning: what to do or not to do at once; may be empty where `stop_driving` is false.
        causes: lines of the book's table.
        others: causes that are no wear part of the catalogue.
        provenance: of the weights.
    """

    id: str
    title: str
    conditions: tuple[str, ...]
    stop_driving: bool
    warning: str
    causes: tuple[Cause, ...]
    others: tuple[OtherCause, ...]
    provenance: Provenance
    engine_dead: bool = False

    def shares(
        self, system: System | None = None, on_car: Collection[str] | None = None
    ) -> Mapping[str, float]:
        """Share of each kind among the causes on a car of this system; with `something_else` they sum to 1.

        Args:
            system: the car's system; None counts the lines of all.
            on_car: ids of the kinds known to be on the car; alternatives then go to those of them that are
                there, and a line with none there goes to something else. None: alternatives that the system
                can have share equally.
        """
        shares, _ = self._split(system, on_car)
        return MappingProxyType(shares)

    def something_else(self, system: System | None = None, on_car: Collection[str] | None = None) -> float:
        """Share of causes outside `shares`, for the same arguments; never below 0.05."""
        return self._split(system, on_car)[1]

    def not_on(self, system: System | None, on_car: Collection[str]) -> Mapping[str, float]:
        """Share among all causes of each kind that is not among `on_car`, largest first; part of `something_else`.

        Alternatives share equally, and one of them on the car is enough; what counts only for a car that is known to
        have it is left out.
        """
        lines = [
            c for c in self.causes if _holds(c.systems, system) and not (c.cohort and not _there(c, on_car))
        ]
        total = sum(line.weight for line in lines)
        total += sum(other.weight for other in self.others if _holds(other.systems, system))
        shares: defaultdict[str, float] = defaultdict(float)
        for line in lines:
            could_be = [] if _there(line, on_car) else line.on(system)
            for kind in could_be:
                shares[kind] += line.weight / len(could_be) / total
        return MappingProxyType(dict(sorted(shares.items(), key=lambda row: -row[1])))

    @property
    def kinds(self) -> tuple[str, ...]:
        """Every kind that any of its causes names, once."""
        return tuple(dict.fromkeys(kind for cause in self.causes for kind in cause.kinds))

    def _split(self, system: System | None, on_car: Collection[str] | None) -> tuple[dict[str, float], float]:
        weights: defaultdict[str, float] = defaultdict(float)
        other = sum(cause.weight for cause in self.others if _holds(cause.systems, system))
        for cause in self.causes:
            if not _holds(cause.systems, system) or (cause.cohort and on_car is None):
                continue
            there = cause.on(system) if on_car is None else [kind for kind in cause.kinds if kind in on_car]
            for kind in there:
                weights[kind] += cause.weight / len(there)
            if not there and not cause.cohort:
                other += cause.weight
        listed = sum(weights.values())
        elsewhere = max(other / (listed + other), LEAST_ELSE) if listed else 1.0
        return {kind: weight / listed * (1.0 - elsewhere) for kind, weight in weights.items()}, elsewhere


@cache
def load_complaints() -> Mapping[str, Complaint]:
    """The complaints that come with the planner, by id; read at the first call and kept.

    Raises:
        CatalogueError: naming file, complaint and field.
    """
    return read_complaints(package_texts("complaints"))


def read_complaints(texts: Mapping[str, str]) -> Mapping[str, Complaint]:
    """Complaints from TOML texts by file name.

    Raises:
        CatalogueError: naming file, complaint and field.
    """
    complaints: dict[str, Complaint] = {}
    for file, text in texts.items():
        root = parse_toml(text, file)
        for name, table in root.named_tables("complaint"):
            if name in complaints:
                raise root.refuse(name, "an id that no other file uses", name)
            complaints[name] = _read(name, table, package_commons())
        root.close()
    return MappingProxyType(complaints)


def own_complaint(complaint_id: str, fields: Mapping[str, Any]) -> Complaint:
    """A keeper's own complaint from plain fields, checked as the book's are.

    Args:
        complaint_id: its short name.
        fields: title, conditions, stop_driving, warning, causes (lists of kinds, weight, systems, cohort, note) and
            others (what, weight, systems); engine_dead; basis, sources and note say where the weights come from.

    Raises:
        CatalogueError: naming complaint and field.
    """
    return _read(complaint_id, Table(fields, complaint_id), package_commons())


def with_own_weights(complaint: Complaint, fields: Mapping[str, Any]) -> Complaint:
    """A complaint of the book with a keeper's own weights; what it says of driving on stays as it is.

    Args:
        complaint: of the book.
        fields: out of causes and others, as in `own_complaint`; note says where the weights come from.

    Raises:
        CatalogueError: naming complaint and field.
    """
    table = Table(fields, complaint.id)
    changed = replace(
        complaint,
        causes=_causes(table) if "causes" in table else complaint.causes,
        others=_others(table) if "others" in table else complaint.others,
        provenance=Provenance("judgement", table.text("note", "") or "The keeper's own weights."),
    )
    table.close()
    return changed


def _read(name: str, table: Table, commons: Commons) -> Complaint:
    stop, warning = table.flag("stop_driving", default=False), table.text("warning", "")
    if stop and not warning.strip():
        raise table.refuse("warning", "words that go with stop_driving", warning)
    complaint = Complaint(
        id=name,
        title=table.text("title"),
        conditions=_conditions(table),
        stop_driving=stop,
        warning=warning,
        causes=_causes(table),
        others=_others(table),
        provenance=commons.cite(table, commons.figures["share"]),
        engine_dead=table.flag("engine_dead", default=False),
    )
    table.close()
    return complaint


def _conditions(table: Table) -> tuple[str, ...]:
    conditions = table.texts("conditions")
    for condition in conditions:
        look_up(table, "conditions", condition, load_conditions())
    return conditions


def _causes(table: Table) -> tuple[Cause, ...]:
    return tuple(_cause(line) for line in table.list_of_tables("causes"))


def _others(table: Table) -> tuple[OtherCause, ...]:
    return tuple(_other(line) for line in table.list_of_tables("others"))


def _cause(line: Table) -> Cause:
    kinds = line.texts("kinds", needed=True)
    for kind in kinds:
        look_up(line, "kinds", kind, load_catalogue())
    cause = Cause(
        kinds=kinds,
        weight=line.number("weight", 0.1, 100.0),
        systems=line.choices("systems", SYSTEMS),
        cohort=line.flag("cohort", default=False),
        note=line.text("note", ""),
    )
    line.close()
    return cause


def _other(line: Table) -> OtherCause:
    other = OtherCause(line.text("what"), line.number("weight", 0.1, 100.0), line.choices("systems", SYSTEMS))
    line.close()
    return other


def _holds(systems: tuple[System, ...], system: System | None) -> bool:
    return not systems or system is None or system in systems


def _there(cause: Cause, on_car: Collection[str]) -> bool:
    """Whether one of its kinds is on the car."""
    return any(kind in on_car for kind in cause.kinds)
