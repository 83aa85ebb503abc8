"""The values of a fault-finding: suspects' figures, checks, steps done so far and the whole question."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from planner.faults.errors import FaultError
from planner.faults.guards import chance, finite, hazard, share, truth, words
from planner.interval.costs import HOURLY_RATE

Chance: TypeAlias = float | NDArray[np.float64]
"""A probability or a hazard: one number, or one per posterior draw (of all parts alike: the draws of independent parts must be
in independent orders)."""

ALMOST_SURE = 1.0 - 1e-12
"""Nothing is stated as surer than this: rounding must not turn a chance into a certainty."""


@dataclass(frozen=True, eq=False)
class Candidate:
    """One part on this car that could be behind the complaint.

    Attributes:
        part: reference of the part in its place on this car.
        name: what the keeper calls it.
        hazard: cumulative hazard accrued between "last ran well" and now, > 0: a number, or one per draw.
        share: c_i = P(the complaint shows | this part is faulty), 0 to 1.
        money: price of a renewal (parts and anything bought in).
        minutes: labour of a renewal.
        new_part_fault: pi0 of a new part: bad from the shelf or badly fitted, 0 or more and below 1.
        bad_from_new: the same for the part in place, where it was fitted since the car last ran well; else 0.
        book_hazard: what an average car's part would have accrued over the same time; None if not known.
        caution: what can hurt when renewing it; empty if nothing special.
        due_anyway: why it is to be renewed whatever the fault is, as goes after its name; empty if it is not.
        spent_anyway: of the cost of its renewal, what would be spent before long whatever the fault is, as the renewal takes the
            place of a planned one; 0 or more, and no more than the renewal costs.

    Raises:
        FaultError: a value is out of its range; names the field.
    """

    part: str
    name: str
    hazard: Chance
    share: float
    money: float
    minutes: float
    new_part_fault: float = 0.0
    bad_from_new: float = 0.0
    book_hazard: float | None = None
    caution: str = ""
    due_anyway: str = ""
    spent_anyway: float = 0.0

    def __post_init__(self) -> None:
        words("part", self.part)
        object.__setattr__(self, "hazard", hazard("hazard", self.hazard))
        share("share", self.share)
        finite("money", self.money)
        finite("minutes", self.minutes)
        finite("spent_anyway", self.spent_anyway)
        chance("new_part_fault", self.new_part_fault)
        chance("bad_from_new", self.bad_from_new)
        if self.book_hazard is not None:
            hazard("book_hazard", self.book_hazard)

    @property
    def faulty(self) -> Chance:
        """p_i = 1 - exp(-hazard), before the complaint and any check; shape of `hazard`."""
        return fault_chance(self.hazard, self.bad_from_new)


def fault_chance(accrued: Chance, bad_from_new: float = 0.0) -> Chance:
    """P(faulty) of a part that accrued this hazard, and may have been bad from new."""
    p = -np.expm1(-accrued)
    capped: Chance = np.minimum(p + (1.0 - p) * bad_from_new, ALMOST_SURE)
    return capped if isinstance(accrued, np.ndarray) else float(capped)


@dataclass(frozen=True)
class Reading:
    """What one check says of one part.

    Attributes:
        part: reference of the part.
        sensitivity: P(shows bad | faulty and the fault is there at the time), between 0 and 1.
        specificity: P(shows good | sound), between 0 and 1; sensitivity + specificity is at least 1.
    """

    part: str
    sensitivity: float
    specificity: float

    def __post_init__(self) -> None:
        words("part", self.part)
        chance("sensitivity", self.sensitivity, above_zero=True)
        chance("specificity", self.specificity, above_zero=True)
        if self.sensitivity + self.specificity < 1.0:
            finite("sensitivity", self.sensitivity, at_least=1.0 - self.specificity)

    def with_presence(self, present: float) -> Reading:
        """The reading of a check made while the fault shows itself only with this chance.

        The trade's rule: sensitivity times the chance that the fault is present; never below the false-alarm
        rate, or a bad reading would speak for the part.
        """
        sensitivity = max(self.sensitivity * present, 1.0 - self.specificity)
        return self if present == 1.0 else replace(self, sensitivity=sensitivity)


@dataclass(frozen=True)
class Check:
    """A check that can be made on this car.

    Either it shows where (a result per part), or it gives one result for all its parts together, bad if any of them
    is: a dead needle says "the trigger side", no more.

    Attributes:
        id: the catalogue's or the keeper's name for it.
        name: in words.
        readings: one per part that it looks at, at least one.
        money: what it uses up or what hiring the tool costs.
        minutes: time it takes.
        needs_fault_present: whether it finds nothing while the fault stays away.
        one_result: whether it gives one result for all its parts; they then have the same specificity.
        caution: what can hurt; empty if nothing special.
    """

    id: str
    name: str
    readings: tuple[Reading, ...]
    money: float = 0.0
    minutes: float = 0.0
    needs_fault_present: bool = False
    one_result: bool = False
    caution: str = ""

    def __post_init__(self) -> None:
        words("id", self.id)
        words("readings", self.readings)
        words("readings", tuple(reading.part for reading in self.readings), unique=True)
        specificities = {reading.specificity for reading in self.readings}
        if self.one_result and len(specificities) > 1:
            raise FaultError("readings", "one specificity for one result", sorted(specificities))
        finite("money", self.money)
        finite("minutes", self.minutes)

    def of(self, part: str) -> Reading | None:
        """Its reading of one part, or None."""
        return next((reading for reading in self.readings if reading.part == part), None)


@dataclass(frozen=True)
class Checked:
    """A check that was made, with what it showed of each part it looked at (True: shows bad).

    Attributes:
        check: id of the check.
        shows_bad: pairs of part and outcome, at least one; or one outcome for all parts it looks at.
        fault_present: chance that an intermittent fault was there at the time; None: the finding's.
    """

    check: str
    shows_bad: tuple[tuple[str, bool], ...] | bool
    fault_present: float | None = None

    def __post_init__(self) -> None:
        words("check", self.check)
        if not isinstance(self.shows_bad, bool):
            words("shows_bad", self.shows_bad)
            words("shows_bad", tuple(part for part, _ in self.shows_bad), unique=True)
            for part, bad in self.shows_bad:
                truth(f"shows_bad.{part}", bad)
        if self.fault_present is not None:
            chance("fault_present", self.fault_present, above_zero=True, below_one=False)


@dataclass(frozen=True)
class Renewed:
    """Parts that were renewed together while the complaint stayed: not cured."""

    parts: tuple[str, ...]

    def __post_init__(self) -> None:
        words("parts", self.parts)
        words("parts", self.parts, unique=True)


Step: TypeAlias = Checked | Renewed


@dataclass(frozen=True)
class HandOver:
    """Giving up the search at home: a specialist finds whatever it is, and cures it at its own cost on top.

    Attributes:
        money: price of the specialist's search.
        minutes: the keeper's own time for it.
        cure_elsewhere: price of curing something that is not among the suspects; a guilty suspect costs its renewal.
    """

    money: float = 0.0
    minutes: float = 0.0
    cure_elsewhere: float = 0.0

    def __post_init__(self) -> None:
        finite("money", self.money)
        finite("minutes", self.minutes)
        finite("cure_elsewhere", self.cure_elsewhere)


@dataclass(frozen=True)
class NotOnRecord:
    """A kind of part that the book suspects and of which the car has none on record; part of "something else".

    Attributes:
        kind: id of the kind.
        name: its name.
        share: its share among all causes of the complaint in the book, above 0 and up to 1.
    """

    kind: str
    name: str
    share: float

    def __post_init__(self) -> None:
        words("kind", self.kind)
        chance("share", self.share, above_zero=True, below_one=False)


@dataclass(frozen=True)
class FaultFinding:
    """The whole question: a complaint on one car, its suspects, the checks at hand and the steps so far.

    Attributes:
        complaint: the complaint in words.
        candidates: suspects, each part once; none where nothing on record can cause it.
        something_else: leak: P(the complaint shows | every suspect sound), above 0 and below 1.
        checks: checks that can be made on this car, each id once.
        steps: what was done so far, in order.
        hand_over: the last resort.
        hourly_rate: what an hour of the keeper's time counts, in the currency of the money figures.
        fault_present: chance that an intermittent fault is there while a check is made; 1 for a steady one.
        stop_driving: why the car must not be driven with this complaint; empty if it may.
        warning: what else to mind; empty if nothing.
        not_on_record: kinds that the book suspects as well and that the car has none of on record.
    """

    complaint: str
    candidates: tuple[Candidate, ...]
    something_else: float
    checks: tuple[Check, ...] = ()
    steps: tuple[Step, ...] = ()
    hand_over: HandOver = field(default_factory=lambda: HandOver(money=250.0, cure_elsewhere=150.0))
    hourly_rate: float = HOURLY_RATE
    fault_present: float = 1.0
    stop_driving: str = ""
    warning: str = ""
    not_on_record: tuple[NotOnRecord, ...] = ()

    def __post_init__(self) -> None:
        words("candidates", tuple(c.part for c in self.candidates), unique=True, empty=True)
        draws = {np.size(c.hazard) for c in self.candidates if isinstance(c.hazard, np.ndarray)}
        if len(draws) > 1:
            raise FaultError("candidates", "the same number of draws of hazard for every part", sorted(draws))
        words("checks", tuple(c.id for c in self.checks), unique=True, empty=True)
        chance("something_else", self.something_else, above_zero=True)
        finite("hourly_rate", self.hourly_rate)
        chance("fault_present", self.fault_present, above_zero=True, below_one=False)
        for one in self.candidates:
            if one.spent_anyway > self.cost(one):
                raise FaultError(
                    "spent_anyway", f"at most {self.cost(one):g}, what the renewal costs", one.spent_anyway
                )

    def after(self, *steps: Step) -> FaultFinding:
        """The same question with further steps done."""
        return replace(self, steps=(*self.steps, *steps))

    def cost(self, work: Candidate | Check | HandOver) -> float:
        """Money and time of one piece of work, in the currency of the money figures."""
        return work.money + work.minutes / 60.0 * self.hourly_rate
