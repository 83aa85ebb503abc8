"""Reads one family file into part kinds, checking that every figure is there, sensible and has a provenance."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING

from planner.catalogue.commons import look_up
from planner.catalogue.reading import parse_toml
from planner.catalogue.values import (
    BASES,
    SYSTEMS,
    BookCap,
    BookClock,
    BookMeasure,
    CapBasis,
    EndOfLife,
    PartKind,
    Provenance,
)

if TYPE_CHECKING:
    from planner.catalogue.commons import Commons, Family
    from planner.catalogue.reading import Table

COST_CLASSES = ("A", "B", "C", "D", "E")
SHAPE_CLASSES = (
    "random",
    "random with early failures",
    "mild wear-out",
    "mild wear-out with early failures",
    "sharp wear-out",
    "calendar",
)
CAP_BASES: tuple[CapBasis, ...] = ("maker", "authority", "common practice", "unknown", "none")
ENDS: tuple[EndOfLife, ...] = ("failure", "limit")
LOOK_IT_UP = "limit unknown: look it up"
_UNITS = {"distance": (100.0, 2e6), "age": (0.1, 150.0)}
_JUDGED_FIGURES = ("new_part_fault", "stops_car", "labour_hours", "cost_class")


def read_kinds(text: str, file: str, family: Family, commons: Commons) -> list[PartKind]:
    """The part kinds of one file, in order.

    Raises:
        CatalogueError: naming file, kind and field.
    """
    root = parse_toml(text, file)
    kinds = [_read_kind(name, table, family, commons) for name, table in root.named_tables("kind")]
    root.close()
    return kinds


def _read_kind(name: str, table: Table, family: Family, commons: Commons) -> PartKind:
    provenance: dict[str, Provenance] = {}
    multiplier = table.number("scale_multiplier", 0.5, 3.0)
    distance, age = _read_clocks(table, multiplier, commons, provenance)
    safety = table.flag("safety", default=False)
    max_risk = table.optional_number("max_risk", 1e-4, 0.5)
    _note_figures(table, commons, provenance, multiplier, max_risk)
    kind = PartKind(
        id=name,
        name_gb=table.text("name_gb"),
        name_us=table.text("name_us"),
        other_names=table.texts("other_names"),
        family=family.name,
        systems=table.choices("systems", SYSTEMS),
        distance=distance,
        age=age,
        new_part_fault=table.number("new_part_fault", 0.0, 0.1),
        end_of_life=table.choice("end_of_life", ENDS, "failure"),
        failure_effect=table.text("failure_effect"),
        stops_car=table.number("stops_car", 0.0, 1.0),
        safety=safety,
        cap=_read_cap(table, commons, provenance, safety=safety),
        labour_hours=_pair(table, "labour_hours"),
        cost_class=table.choice("cost_class", COST_CLASSES),
        access_group=_access_group(table, commons),
        together_with=table.texts("together_with"),
        also_with=table.texts("also_with"),
        cautions=_cautions(table, family, commons),
        symptoms=table.text("symptoms"),
        cheap_check=table.text("cheap_check"),
        shortened_by=table.text("shortened_by"),
        shape_class=table.choice("shape_class", SHAPE_CLASSES),
        wear=table.text("wear"),
        max_risk=max_risk,
        measured=_read_measure(table, commons, provenance),
        provenance=MappingProxyType(provenance),
    )
    table.close()
    return kind


def _read_clocks(
    kind: Table, multiplier: float, commons: Commons, provenance: dict[str, Provenance]
) -> tuple[BookClock | None, BookClock | None]:
    distance = _read_clock(kind, "distance", multiplier, commons, provenance)
    age = _read_clock(kind, "age", multiplier, commons, provenance)
    if distance is None and age is None:
        raise kind.refuse("age", "a distance clock, an age clock or both", None)
    return distance, age


def _read_clock(
    kind: Table, clock: str, multiplier: float, commons: Commons, provenance: dict[str, Provenance]
) -> BookClock | None:
    table = kind.table(clock)
    if table is None:
        return None
    low, high = _UNITS[clock]
    p10, p50 = table.number("p10", low, high), table.number("p50", low, high)
    if p50 < 1.1 * p10:
        raise table.refuse("p50", f"at least a tenth above the 10 % point ({p10:g})", p50)
    both = commons.cite(table)
    first, half = (_own_basis(table, f"{figure}_basis", both) for figure in ("p10", "p50"))
    spread_scale = table.number("spread_scale", 0.05, 2.0)
    spread_shape = table.number("spread_shape", 0.05, 2.0, default=0.35)
    table.close()
    provenance |= {
        f"{clock}.p10": first,
        f"{clock}.p50": half,
        f"{clock}.spread_scale": commons.figures["spread_scale"],
        f"{clock}.spread_shape": commons.figures["spread_shape"],
    }
    softer = max(first.basis, half.basis, key=BASES.index)
    return BookClock(
        p10 * multiplier, p50 * multiplier, spread_scale, spread_shape, softer, both.text, multiplier
    )


def _own_basis(table: Table, key: str, both: Provenance) -> Provenance:
    """The clock's provenance, with another basis for one of its two quantiles where the table says so."""
    basis = table.choice(key, BASES, both.basis)
    if basis == "page" and not both.sources:
        raise table.refuse("sources", "the page that the figure stands on", [])
    return Provenance(basis, both.text, both.sources)


def _read_cap(kind: Table, commons: Commons, provenance: dict[str, Provenance], *, safety: bool) -> BookCap:
    table = kind.table("cap")
    if table is None:
        if safety:
            raise kind.refuse("cap", 'a cap, or basis "unknown", because the kind is a safety part', None)
        return BookCap(note="no limit of its own")
    basis = table.choice("basis", CAP_BASES)
    km, years = table.optional_number("km", 100.0, 2e6), table.optional_number("years", 0.1, 100.0)
    limited = km is not None or years is not None
    if limited == (basis in {"unknown", "none"}):
        raise table.refuse("basis", "unknown or none without a limit, and somebody's with one", basis)
    if safety and basis == "none":
        raise table.refuse("basis", "a limit or unknown, because the kind is a safety part", basis)
    warn_km, warn_years = table.optional_number("warn_km", 100.0), table.optional_number("warn_years", 0.1)
    note = table.text("note")
    source = _cap_provenance(table, commons, basis, note)
    table.close()
    provenance["cap"] = source
    if basis == "unknown":
        note = f"{LOOK_IT_UP}. {note}"
    return BookCap(km, years, basis, note, source.text, warn_km, warn_years)


def _read_measure(kind: Table, commons: Commons, provenance: dict[str, Provenance]) -> BookMeasure | None:
    table = kind.table("measured")
    if table is None:
        return None
    limit, allowed = table.optional_number("limit", 0.0, 1e4), table.optional_number("allowed", 1e-6, 1e4)
    if limit is not None and allowed is not None:
        raise table.refuse("allowed", "a limit or an allowed change, not both", allowed)
    source = commons.cite(table)
    found = BookMeasure(
        unit=table.text("unit"),
        falling=table.choice("wear", ("lowers it", "raises it")) == "lowers it",
        limit=limit,
        allowed=allowed,
        error=table.number("error", 1e-6, 1e3),
        note=source.text,
    )
    table.close()
    provenance["measured"] = source
    return found


def _cap_provenance(table: Table, commons: Commons, basis: CapBasis, note: str) -> Provenance:
    tags = table.texts("sources")
    cited = commons.citations(table, tags)
    if tags:
        return Provenance("page", cited, tags)
    if basis in {"maker", "authority"}:
        raise table.refuse("sources", f"the page that states the limit of the {basis}", list(tags))
    return Provenance("common practice" if basis == "common practice" else "judgement", note)


def _note_figures(
    kind: Table,
    commons: Commons,
    provenance: dict[str, Provenance],
    multiplier: float,
    max_risk: float | None,
) -> None:
    scale = "scale_kept" if multiplier == 1.0 else "scale_raised"
    provenance["scale_multiplier"] = commons.figures[scale]
    names = (*_JUDGED_FIGURES, "max_risk") if max_risk is not None else _JUDGED_FIGURES
    provenance |= {name: commons.figures[name] for name in names}
    own = kind.table("figures")
    if own is None:
        return
    for name in (*names, "scale_multiplier"):
        table = own.table(name)
        if table is not None:
            provenance[name] = commons.cite(table)
            table.close()
    own.close()


def _access_group(table: Table, commons: Commons) -> str:
    group = table.text("access_group")
    look_up(table, "access_group", group, commons.access_groups)
    return group


def _cautions(table: Table, family: Family, commons: Commons) -> tuple[str, ...]:
    own = (*table.texts("own_cautions"), *commons.caution(table, "cautions"))
    return tuple(dict.fromkeys((*own, *family.cautions)))


def _pair(table: Table, key: str) -> tuple[float, float]:
    low, high = table.numbers(key, 2, 0.05, 60.0)
    return low, high
