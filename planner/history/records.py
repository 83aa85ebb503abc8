"""What a keeper writes down about a car: vehicle, odometer readings, fitments, inspections, repairs, removals."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from planner.errors import RecordError
from planner.history.evidence import Reason  # noqa: TC001 - the record classes read it at run time
from planner.history.record_base import Day, Name, Record, UncertainDay, Years
from planner.units import DistanceUnit, to_km

MOST_KM = 5_000_000.0
"""No car went further (the record stands near 5.3 million km by press accounts, from memory): more means wrong units."""

MOST_KM_PER_LIMIT = 1_000_000.0
"""A limit or a donor's distance beyond this means wrong units."""

Condition = Literal["new", "second-hand", "rebuilt", "new old stock"]
Finding = Literal["good", "near limit", "worn to limit", "failed"]
RepairAction = Literal["cleaned", "dressed", "re-gapped", "adjusted", "repaired"]
IgnitionSystem = Literal["points", "electronic distributor", "injection"]
OdometerStatement = Literal["actual", "exceeds mechanical limits", "not actual"]
"""The three statements of 49 CFR 580 about an odometer figure."""


class Distance(Record):
    """A distance as it was written, with its unit.

    Attributes:
        value: figure, not negative, at most `MOST_KM` once converted.
        unit: "km" or "mi".
        plus_minus: half-width of the doubt in the same unit ("52,000 or so"); None where the figure is taken as read.
    """

    value: Annotated[float, Field(ge=0)]
    unit: DistanceUnit
    plus_minus: Annotated[float, Field(ge=0)] | None = None

    @model_validator(mode="after")
    def _believable(self) -> Self:
        if self.km > MOST_KM:
            raise RecordError("value", f"a distance of at most {MOST_KM:,.0f} km: check the unit", self.value)
        return self

    @property
    def km(self) -> float:
        """The distance in km (exact for miles)."""
        return to_km(self.value, self.unit)

    @property
    def plus_minus_km(self) -> float:
        """Half-width of the doubt in km; 0 where none was stated."""
        return to_km(self.plus_minus or 0.0, self.unit)

    @property
    def ends(self) -> tuple[Distance, ...]:
        """The least and the most it may be; nothing where no doubt was stated."""
        if not self.plus_minus:
            return ()
        low, high = max(0.0, self.value - self.plus_minus), self.value + self.plus_minus
        return Distance(value=low, unit=self.unit), Distance(value=high, unit=self.unit)


class Vehicle(Record):
    """A car.

    Attributes:
        ref: the caller's own key.
        name: what its keeper calls it.
        built: when it left the factory, as far as known.
        joined_on: when it came under its keeper's eyes; parts older than that entered late (delayed entry).
        records_from: since when the papers are complete, where that is before `joined_on` (an earlier owner's file).
    """

    ref: Name
    name: Name
    built: UncertainDay | None = None
    joined_on: Day | None = None
    records_from: Day | None = None
    chassis_number: Annotated[str, Field(max_length=40)] | None = None
    system: IgnitionSystem | None = None
    distance_unit: DistanceUnit = "km"
    storage: Annotated[str, Field(max_length=80)] | None = None

    @model_validator(mode="after")
    def _order(self) -> Self:
        for name in ("joined_on", "records_from"):
            day = getattr(self, name)
            if day is not None and self.built is not None and day < self.built.earliest:
                raise RecordError(name, f"a day not before the car was built, {self.built}", str(day))
        return self


class OdometerReading(Record):
    """One look at the odometer.

    Attributes:
        read_on: the day.
        reading: what the dial showed (tenths dial left out), with its unit.
        dial_digits: digits of whole distance on the dial; 5 rolls over at 100,000. None where nobody counted.
        rollovers: how often the dial has passed its end before this reading; None where unknown.
        new_instrument: True for the first reading of a replaced (or re-set) odometer.
        statement: the statement of 49 CFR 580, where one was made; a figure stated "not actual" is not used.
    """

    read_on: Day
    reading: Distance
    dial_digits: Annotated[int, Field(ge=4, le=7)] | None = None
    rollovers: Annotated[int, Field(ge=0, le=20)] | None = None
    new_instrument: bool = False
    statement: OdometerStatement | None = None

    @model_validator(mode="after")
    def _fits_the_dial(self) -> Self:
        if self.dial_digits is not None and self.reading.value >= 10**self.dial_digits:
            wanted = f"a figure that a dial of {self.dial_digits} digits can show"
            raise RecordError("reading", wanted, self.reading.value)
        return self


class Fitment(Record):
    """One part put in one position.

    Attributes:
        ref: the caller's own key.
        kind: part kind id of the catalogue.
        position: where on the car ("front left", "cylinder 3"); None where there is only one.
        fitted_on: when; None where unknown.
        odometer: what the dial showed at fitting; None where nobody wrote it down.
        condition: "second-hand" parts bring their donor's clocks, "new old stock" has aged since `made_on`.
        donor_km, donor_years: clocks a second-hand part brings along.
        made_on: manufacture, from a date code on the part.
        original_chance: chance that it is the car's first, where its fitting day is unknown and it looks it.
        cap_km, cap_years: limit set for this part by its keeper or maker.
    """

    ref: Name
    kind: Name
    position: Annotated[str, Field(max_length=80)] | None = None
    fitted_on: UncertainDay | None = None
    odometer: Distance | None = None
    condition: Condition = "new"
    donor_km: Annotated[float, Field(ge=0, le=MOST_KM_PER_LIMIT)] | None = None
    donor_years: Years | None = None
    grade: Annotated[str, Field(max_length=80)] | None = None
    made_on: UncertainDay | None = None
    original_chance: Annotated[float, Field(ge=0, le=1)] | None = None
    cap_km: Annotated[float, Field(gt=0, le=MOST_KM_PER_LIMIT)] | None = None
    cap_years: Annotated[float, Field(gt=0, le=150)] | None = None

    @model_validator(mode="after")
    def _donor_only_second_hand(self) -> Self:
        for name in ("donor_km", "donor_years"):
            if getattr(self, name) is not None and self.condition != "second-hand":
                raise RecordError(
                    name, "nothing, unless the part was fitted second-hand", getattr(self, name)
                )
        return self

    @model_validator(mode="after")
    def _made_before_fitted(self) -> Self:
        if self.made_on and self.fitted_on and self.made_on.earliest > self.fitted_on.latest:
            raise RecordError("made_on", f"a day not after the fitting, {self.fitted_on}", str(self.made_on))
        return self


class Measurement(Record):
    """A figure taken at an inspection.

    Attributes:
        value: what was measured.
        unit: its unit ("mm", "kohm"), the keeper's own; all measurements of one fitment share it.
        limit: where the part must be renewed, in the same unit; None where unknown.
    """

    value: float
    unit: Annotated[str, Field(min_length=1, max_length=20)]
    limit: float | None = None


class Inspection(Record):
    """Somebody looked at the part."""

    inspected_on: Day
    odometer: Distance | None = None
    finding: Finding
    measurement: Measurement | None = None


class Repair(Record):
    """Work that left the part in its place."""

    repaired_on: Day
    odometer: Distance | None = None
    action: RepairAction


class Removal(Record):
    """The part came out.

    Attributes:
        removed_on: when.
        odometer: what the dial showed.
        reason: why, in the words of `planner.history.evidence.Reason`.
        cured: whether the complaint went away; None where nobody wrote it down or there was none.
        changed_together: how many parts were renewed against the same complaint, this one included.
        shared_event: the caller's key for that complaint; the same on every part renewed against it.
        complaint_fit: chance that a failure of this part shows as that complaint; None: as likely as the others'.
    """

    removed_on: UncertainDay
    odometer: Distance | None = None
    reason: Reason
    cured: bool | None = None
    changed_together: Annotated[int, Field(ge=1, le=50)] = 1
    shared_event: Name | None = None
    complaint_fit: Annotated[float, Field(gt=0, le=1)] | None = None
