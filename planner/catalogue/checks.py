"""Cheap checks: what each looks at, how far a bad or a good reading may be believed, and what it costs."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from planner.catalogue.commons import look_up
from planner.catalogue.complaints import load_complaints
from planner.catalogue.conditions import load_conditions
from planner.catalogue.loader import load_catalogue, package_commons, package_texts
from planner.catalogue.reading import Table, parse_toml
from planner.catalogue.values import SYSTEMS, Provenance, System

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from planner.catalogue.commons import Commons

_WORTH = {
    "sensitivity": (0.01, 0.999),
    "specificity": (0.01, 0.999),
    "minutes": (0.0, 1000.0),
    "money": (0.0, 10_000.0),
}
"""Figures that say what a check is worth, with the least and the most of each."""


@dataclass(frozen=True, slots=True)
class Check:
    """A check of the trade. A reading speaks of the check's own parts only; repeating it adds nothing.

    Attributes:
        id: short name, e.g. "dwell".
        name: in words.
        targets: ids of the kinds that it looks at; empty where `any_part` or `rules_out` says what it is for.
        any_part: whether it can be made of any part (a trial renewal).
        rules_out: what it rules in or out that is no wear part of the catalogue; empty otherwise.
        sensitivity: P(shows bad | faulty, and the fault is there at the time).
        specificity: P(shows good | sound).
        minutes: time it takes.
        money: what it uses up, of the order of a euro of the 2020s.
        systems: cars on which it can be made; empty means any.
        needs_fault_present: whether it finds nothing while an intermittent fault stays away.
        needs_running: whether the engine has to run for it.
        needs_dead: whether it tells something only of an engine that does not run.
        shows_where: whether it shows which of several kinds is bad (a spark that is seen to jump, a wet spot).
        not_with: ids of complaints, and of conditions noticed or held by the complaint, with which it cannot be made, tells
            nothing or tells again what is known.
        caution: what can hurt; may be empty.
        note: how to read it; may be empty.
        provenance: of sensitivity, specificity, minutes and money.
    """

    id: str
    name: str
    targets: tuple[str, ...]
    sensitivity: float
    specificity: float
    minutes: float
    money: float = 0.0
    systems: tuple[System, ...] = ()
    needs_fault_present: bool = False
    needs_running: bool = False
    needs_dead: bool = False
    shows_where: bool = False
    not_with: tuple[str, ...] = ()
    caution: str = ""
    note: str = ""
    any_part: bool = False
    rules_out: str = ""
    provenance: Mapping[str, Provenance] = field(default_factory=dict, hash=False)

    @property
    def lr_positive(self) -> float:
        """Likelihood ratio of a bad reading: sensitivity / (1 - specificity)."""
        return self.sensitivity / (1.0 - self.specificity)

    @property
    def lr_negative(self) -> float:
        """Likelihood ratio of a good reading: (1 - sensitivity) / specificity."""
        return (1.0 - self.sensitivity) / self.specificity

    def applies_to(self, system: System | None) -> bool:
        """Whether it can be made on a car of this system; on a car of unknown system it can."""
        return not self.systems or system is None or system in self.systems

    def can_be_made(self, complaint: str, conditions: Collection[str], *, engine_dead: bool) -> bool:
        """Whether it can be made, and tells something, with this complaint under these conditions."""
        if self.needs_running if engine_dead else self.needs_dead:
            return False
        return complaint not in self.not_with and not any(one in self.not_with for one in conditions)

    def looks_at(self, kind_id: str) -> bool:
        """Whether it says something of this kind."""
        return self.any_part or kind_id in self.targets


@cache
def load_checks() -> Mapping[str, Check]:
    """The checks that come with the planner, by id; read at the first call and kept.

    Raises:
        CatalogueError: naming file, check and field.
    """
    return read_checks(package_texts("checks"))


def read_checks(texts: Mapping[str, str]) -> Mapping[str, Check]:
    """Checks from TOML texts by file name.

    Raises:
        CatalogueError: naming file, check and field.
    """
    checks: dict[str, Check] = {}
    for file, text in texts.items():
        root = parse_toml(text, file)
        for name, table in root.named_tables("check"):
            if name in checks:
                raise root.refuse(name, "an id that no other file uses", name)
            checks[name] = _read(name, table, package_commons())
        root.close()
    return MappingProxyType(checks)


def own_check(check_id: str, fields: Mapping[str, Any]) -> Check:
    """A keeper's own check from plain fields, checked as the book's are.

    Args:
        check_id: its short name.
        fields: name, targets, sensitivity, specificity, minutes and, where wanted, money, systems,
            needs_fault_present, needs_running, needs_dead, shows_where, not_with, caution, any_part, rules_out; basis, sources and note say where the figures come from.

    Raises:
        CatalogueError: naming check and field.
    """
    return _read(check_id, Table(fields, check_id), package_commons())


def with_own_worth(check: Check, fields: Mapping[str, Any]) -> Check:
    """A check of the book with a keeper's own figures in place of some of the book's.

    Args:
        check: of the book.
        fields: out of sensitivity, specificity, minutes, money; note says where they come from.

    Raises:
        CatalogueError: naming check and field, as for the book's figures.
    """
    table = Table(fields, check.id)
    reason = table.text("note", "") or "The keeper's own figure."
    figures: dict[str, Any] = {
        name: table.number(name, low, high) for name, (low, high) in _WORTH.items() if name in table
    }
    table.close()
    own = Provenance("judgement", reason)
    changed = replace(check, **figures, provenance={**check.provenance, **dict.fromkeys(figures, own)})
    _refuse_worthless(table, changed.sensitivity, changed.specificity)
    return changed


def _read(name: str, table: Table, commons: Commons) -> Check:
    targets = table.texts("targets")
    for kind in targets:
        look_up(table, "targets", kind, load_catalogue())
    any_part, rules_out = table.flag("any_part", default=False), table.text("rules_out", "")
    if sum((bool(targets), any_part, bool(rules_out))) != 1:
        raise table.refuse("targets", "part kinds, or else any_part, or else rules_out", list(targets))
    sensitivity, specificity = (table.number(key, *_WORTH[key]) for key in ("sensitivity", "specificity"))
    _refuse_worthless(table, sensitivity, specificity)
    running, dead = (table.flag(key, default=False) for key in ("needs_running", "needs_dead"))
    if running and dead:
        raise table.refuse("needs_dead", "false where the engine has to run for it", dead)
    check = Check(
        id=name,
        name=table.text("name"),
        targets=targets,
        sensitivity=sensitivity,
        specificity=specificity,
        minutes=table.number("minutes", *_WORTH["minutes"]),
        money=table.number("money", *_WORTH["money"], default=0.0),
        systems=table.choices("systems", SYSTEMS),
        needs_fault_present=table.flag("needs_fault_present", default=False),
        needs_running=running,
        needs_dead=dead,
        shows_where=table.flag("shows_where", default=False),
        not_with=_not_with(table),
        caution=table.text("caution", ""),
        note=table.text("note", ""),
        any_part=any_part,
        rules_out=rules_out,
        provenance=_provenance(table, commons),
    )
    table.close()
    return check


def _not_with(table: Table) -> tuple[str, ...]:
    names = table.texts("not_with")
    for name in names:
        look_up(table, "not_with", name, {**load_complaints(), **load_conditions()})
    return names


def _refuse_worthless(table: Table, sensitivity: float, specificity: float) -> None:
    if sensitivity + specificity <= 1.0:
        raise table.refuse("sensitivity", f"more than {1.0 - specificity:g}, the false alarms", sensitivity)


def _provenance(table: Table, commons: Commons) -> Mapping[str, Provenance]:
    """The default of each figure; sensitivity and specificity carry the check's own remark and pages as well."""
    own = commons.cite(table, Provenance("judgement", ""))
    figures = {name: commons.figures[name] for name in ("sensitivity", "specificity", "minutes", "money")}
    for name in ("sensitivity", "specificity"):
        text = " ".join(part for part in (figures[name].text, own.text) if part)
        figures[name] = Provenance(own.basis, text, own.sources)
    return MappingProxyType(figures)
