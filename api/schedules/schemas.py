"""Answers about what comes due."""

from datetime import date
from typing import Literal

from pydantic import Field

from api.schemas import Answer, DistanceOut, Page

Status = Literal["due now", "soon", "later", "run to failure"]
ChanceOf = Literal["failing", "reaching its limit"]
Decides = Literal["distance", "age", "cap", "risk limit", "run to failure", "inspection"]


class DoNotDrive(Answer):
    """A car that nobody should drive: the complaint of an open fault-finding forbids it until its cause is gone.

    Attributes:
        complaint: what was noticed.
        words: that, and what to do at once, ready to be shown.
    """

    finding_id: str
    vehicle_id: str
    vehicle_name: str
    complaint: str
    words: str


class Forbidding(Answer):
    """Base of answers about cars: what forbids driving them comes before anything else; oldest case first, 50 at most."""

    do_not_drive: list[DoNotDrive]


class ClocksOut(Answer):
    """Both clocks of a part on the day asked about, since it was new.

    Attributes:
        age_unknown: nobody knows what the part had done before; the clocks are at their oldest.
    """

    distance: DistanceOut
    age_years: float
    age_unknown: bool
    words: str


class WindowOut(Answer):
    """When to renew: costs are within 5 % of the best between earliest and latest; null: run to failure.

    Attributes:
        earliest, likely, latest: a day already past reads as the day asked about.
        limit: the day of a hard cap, as it is even when past; null where none is known.
    """

    earliest: date | None
    likely: date | None
    latest: date | None
    limit: date | None


class IntervalOut(Answer):
    """The interval from fitting, whichever comes first; null: run to failure, or the car does not move."""

    distance: DistanceOut | None
    years: float | None


class ChanceOut(Answer):
    """A chance of failing from the day asked about until another, with an 80 % range."""

    mean: float
    low: float
    high: float
    until: date
    words: str


class EvidenceOut(Answer):
    """How much is book and how much the fleet's own records; a prior share of 1 is all book."""

    source: Literal["book", "fitted"]
    histories: float
    failures: float
    prior_share: float
    words: str


class CostOut(Answer):
    """What was reckoned with; only the ratio of failure to planned decides the interval.

    Attributes:
        per_year: expected cost of following the advice.
        run_to_failure_per_year: expected cost of renewing only what has failed.
        basis: "own": the fleet gave the costs; "book": the catalogue's estimate, of the order of a euro.
    """

    currency: str
    planned: float
    failure: float
    per_year: float
    run_to_failure_per_year: float
    basis: Literal["own", "book"]


class PutOffShown(Answer):
    """A keeper's decision to put the work off, or (null until) to decline it: accepted risk.

    Attributes:
        warning: the limit that it does not move; null if none is in its way.
    """

    until: date | None
    accepted: str
    warning: str | None


class ReportedComplaint(Answer):
    """A complaint in an open fault-finding of the car that the part's failure would show as."""

    finding_id: str
    complaint: str
    title: str


class DueItem(Answer):
    """One part in service: when to renew it, what waiting risks, and why.

    Attributes:
        put_off: what the keeper decided, the window being put off accordingly; null: nothing.
        chance_of: what the two chances are of: failing, or, for what is worn to a measured limit before it fails
            (fluids, tyres, friction), reaching that limit.
        do_not_drive: why nobody should drive the car, in words; null: no open fault-finding forbids it.
        reported_complaints: complaints already reported that this part may be behind, the earliest first.
    """

    do_not_drive: str | None
    fitment_id: str
    vehicle_id: str
    vehicle_name: str
    kind: str
    part: str
    position: str | None
    clocks: ClocksOut
    window: WindowOut
    status: Status
    decides: Decides
    interval: IntervalOut
    chance_before_window: ChanceOut
    chance_to_window_end: ChanceOut
    chance_of: ChanceOf
    evidence: EvidenceOut
    cost: CostOut
    reason: str
    put_off: PutOffShown | None
    reported_complaints: list[ReportedComplaint]
    safety: bool
    cautions: list[str]


class DueSoon(Page[DueItem], Forbidding):
    """Parts that come due within so many days of a day, most urgent first."""

    as_of: date
    within_days: int


class YearlyDistance(Answer):
    """How much a car is driven: the middle estimate and the 10 % and 90 % points."""

    likely: DistanceOut
    low: DistanceOut
    high: DistanceOut
    basis: str = Field(description="how it was worked out")


class Schedule(Forbidding):
    """One car's work, dated; parts to be run to failure stand last."""

    vehicle_id: str
    vehicle_name: str
    as_of: date
    horizon_years: float
    yearly_distance: YearlyDistance | None
    items: list[DueItem]
