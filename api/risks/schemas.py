"""Answers about chances on the road."""

from datetime import date

from api.schedules.schemas import Forbidding
from api.schemas import Answer, DistanceOut


class OddsOut(Answer):
    """A chance with an 80 % range."""

    mean: float
    low: float
    high: float
    words: str


class ContributorOut(Answer):
    """One part and the chance that it stops the car."""

    fitment_id: str
    kind: str
    part: str
    position: str | None
    chance: OddsOut
    failure_effect: str
    safety: bool
    cautions: list[str]


class FoundBadOut(Answer):
    """A part found worn or failed and still fitted: it is not reckoned with, and comes first."""

    fitment_id: str
    kind: str
    part: str
    position: str | None
    reason: str
    safety: bool
    cautions: list[str]


class VehicleRisk(Forbidding):
    """The chance that a part stops the car.

    Attributes:
        distance: distance ahead that was reckoned with.
        stop: chance of at least one stop by the parts on record; parts that nobody wrote down are not in it.
        contributors: the parts that make it up, the largest first.
        found_bad: parts to renew first.
    """

    vehicle_id: str
    vehicle_name: str
    as_of: date
    until: date
    distance: DistanceOut
    stop: OddsOut
    contributors: list[ContributorOut]
    found_bad: list[FoundBadOut]
    notes: list[str]
