"""The frozen values of the catalogue: a part kind, its two clocks, its cap, and where each figure comes from.

Clock names are "distance" (km since fitting) and "age" (years since fitting). The two clocks are competing causes:
each figure says what that clock alone would do to a part that is never renewed ahead of need.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from planner.errors import CatalogueError

if TYPE_CHECKING:
    from collections.abc import Mapping

Basis = Literal["page", "common practice", "judgement"]
"""What a figure stands on: a page that was read, what working mechanics do without a page to cite, or judgement."""

CapBasis = Literal["maker", "authority", "common practice", "unknown", "none"]
"""Who sets a limit; "unknown": there is one to look up; "none": the kind carries no limit of its own."""

EndOfLife = Literal["failure", "limit"]
"""What ends a life as the book counts it: a failure, or a measured limit that is reached before one."""

System = Literal["points", "electronic distributor", "injection"]
"""How the engine is fired and fed, as far as it decides which parts a car has."""

POINTS: System = "points"
ELECTRONIC_DISTRIBUTOR: System = "electronic distributor"
INJECTION: System = "injection"
SYSTEMS: tuple[System, ...] = (POINTS, ELECTRONIC_DISTRIBUTOR, INJECTION)
BASES: tuple[Basis, ...] = ("page", "common practice", "judgement")
"""From the firmest to the softest."""


@dataclass(frozen=True, slots=True)
class Provenance:
    """Where one figure comes from.

    Attributes:
        basis: "page", "common practice" or "judgement".
        text: the citation or the reasoning, in words.
        sources: tags of the pages in the catalogue's list of sources; empty without a page.
    """

    basis: Basis
    text: str
    sources: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BookClock:
    """What the trade expects of one clock, as two quantiles with the spread of a weak prior.

    Attributes:
        p10: distance (km) or age (years) by which 10 % have failed or reached their limit; the raw figure times
            `scale_multiplier`.
        p50: the same for 50 %.
        spread_scale: standard deviation of ln scale.
        spread_shape: standard deviation of ln shape.
        provenance: the softer of the bases of the two quantiles.
        source: citation and reasoning in words.
        scale_multiplier: factor already applied to the raw quantiles (1.5 for most kinds: handbook figures are
            intervals and sit below the 10 % point; 1.0 for safety parts, battery, tyres and a few others).
    """

    p10: float
    p50: float
    spread_scale: float = 0.45
    spread_shape: float = 0.35
    provenance: Basis = "judgement"
    source: str = ""
    scale_multiplier: float = 1.0

    @property
    def raw_p10(self) -> float:
        """The 10 % point as first written down, before the multiplier."""
        return self.p10 / self.scale_multiplier

    @property
    def raw_p50(self) -> float:
        """The 50 % point as first written down, before the multiplier."""
        return self.p50 / self.scale_multiplier


@dataclass(frozen=True, slots=True)
class BookCap:
    """A limit that statistics may tighten and never loosen.

    Attributes:
        km: distance since fitting, or None.
        years: age since fitting (since manufacture where the note says so), or None.
        basis: who sets it; "unknown" means that a limit exists or may exist and has to be looked up.
        note: what to look up or to mind.
        source: citation in words; empty without one.
        warn_km: distance from which to look closely, or None.
        warn_years: age from which to look closely, or None.
    """

    km: float | None = None
    years: float | None = None
    basis: CapBasis = "none"
    note: str = ""
    source: str = ""
    warn_km: float | None = None
    warn_years: float | None = None


@dataclass(frozen=True, slots=True)
class BookMeasure:
    """What is measured on a kind at a look, and where it must be renewed by the book; a keeper's own limit comes first.

    Attributes:
        unit: of the figure.
        falling: whether wear lowers it.
        limit: the figure at which it must be renewed, or None where it depends on the part.
        allowed: change from the figure as set at which it must be renewed, or None.
        error: sd of one measurement in the same unit.
        note: what to mind.
    """

    unit: str
    falling: bool
    limit: float | None
    allowed: float | None
    error: float
    note: str


@dataclass(frozen=True, slots=True)
class AccessGroup:
    """Work behind the same access: opened once, everything in it is cheaper.

    Attributes:
        name: what the group is called, in the trade's words.
        setup_hours: labour to get there and back, shared by all that is done there.
        provenance: where `setup_hours` comes from.
    """

    name: str
    setup_hours: float
    provenance: Provenance


@dataclass(frozen=True, slots=True)
class WearShows:
    """How a part's wear shows before it fails.

    Attributes:
        share: of its life for which it can be seen, measured or heard, above 0 and below 1.
        finds: chance that the usual look finds it when it is there, above 0 and up to 1.
        minutes: of a look.

    Raises:
        CatalogueError: a figure is out of its range.
    """

    share: float
    finds: float
    minutes: float

    def __post_init__(self) -> None:
        if not 0.0 < self.share < 1.0:
            raise CatalogueError("wear_shows.share", "a share above 0 and below 1", self.share)
        if not 0.0 < self.finds <= 1.0:
            raise CatalogueError("wear_shows.finds", "a chance above 0 and up to 1", self.finds)
        if not 0.0 < self.minutes <= 600.0:
            raise CatalogueError("wear_shows.minutes", "minutes above 0, up to 600", self.minutes)


@dataclass(frozen=True, slots=True, kw_only=True)
class PartKind:
    """One kind of wear part, as the trade knows it.

    Attributes:
        id: short name, e.g. "rotor_arm".
        name_gb: British name.
        name_us: American name.
        other_names: further names that a keeper may use.
        family: family of the trade, e.g. "ignition".
        systems: which cars have it; empty means any.
        distance: the distance clock, or None where distance does not wear it.
        age: the age clock, or None where age does not.
        new_part_fault: chance that a new part is bad from the shelf or badly fitted, 0 to 0.1.
        end_of_life: what the quantiles count: "failure", or "limit" where the part mostly reaches the limit of a
            measurement (thickness, gap, play, water in the fluid) long before it fails on the road.
        failure_effect: what a failure does.
        stops_car: chance that a failure stops the car, 0 to 1.
        safety: whether a failure can hurt someone.
        cap: limit from maker, authority or common practice.
        labour_hours: from an accessible engine to a cramped one.
        cost_class: parts price, "A" under 20, "B" to 80, "C" to 300, "D" to 1,000, "E" above (of the order of a
            euro of the 2020s).
        access_group: name of the access group.
        together_with: ids of the kinds that are renewed in the same job.
        also_with: further things that belong to the job and are no kind of their own.
        cautions: the kind's own and its family's.
        symptoms: how a failing one shows.
        cheap_check: the cheap check, and how good it is.
        shortened_by: what shortens its life.
        shape_class: class of wear, e.g. "mild wear-out".
        wear: what wears, in a few words.
        max_risk: highest chance of failure, counted from fitting, that a plan may accept; None without a limit.
        measured: what is measured on it, or None.
        wear_shows: how its wear shows before it fails; None where it does not, or nobody knows.
        provenance: for each figure ("distance.p10", "stops_car", "cap" ...) where it comes from; quantiles are
            traced as raw figures, and "scale_multiplier" says why they were raised or kept.
    """

    id: str
    name_gb: str
    name_us: str
    other_names: tuple[str, ...]
    family: str
    systems: tuple[System, ...]
    distance: BookClock | None
    age: BookClock | None
    new_part_fault: float
    end_of_life: EndOfLife
    failure_effect: str
    stops_car: float
    safety: bool
    cap: BookCap
    labour_hours: tuple[float, float]
    cost_class: str
    access_group: str
    together_with: tuple[str, ...]
    also_with: tuple[str, ...]
    cautions: tuple[str, ...]
    symptoms: str
    cheap_check: str
    shortened_by: str
    shape_class: str
    wear: str
    max_risk: float | None
    measured: BookMeasure | None
    wear_shows: WearShows | None = None
    provenance: Mapping[str, Provenance] = field(hash=False)

    @property
    def clocks(self) -> tuple[str, ...]:
        """The clocks that wear it: "distance", "age" or both, in this order."""
        return tuple(name for name in ("distance", "age") if getattr(self, name) is not None)

    def fits(self, system: System | None) -> bool:
        """Whether a car with this system can have the part; a car of unknown system can."""
        return not self.systems or system is None or system in self.systems
