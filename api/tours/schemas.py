"""Answers about a tour."""

from datetime import date

from api.risks.schemas import ContributorOut, FoundBadOut, OddsOut
from api.schedules.schemas import Forbidding
from api.schemas import Answer, DistanceOut


class PackageOut(Answer):
    """The tour after one package of work.

    Attributes:
        fitment_ids: what it renews.
        avoided: how much less the chance of a stop is than with nothing done; negative: it is more.
        cost: of the planned renewals, in the fleet's currency.
        note: what to mind; null if nothing.
    """

    name: str
    fitment_ids: list[str]
    parts: list[str]
    stop: OddsOut
    avoided: float
    cost: float
    note: str | None


class SpareOut(Answer):
    """A spare worth carrying: the chance of needing it, and how easily it is fitted (0 to 1)."""

    fitment_id: str
    kind: str
    part: str
    chance: OddsOut
    roadside_ease: float
    safety: bool
    cautions: list[str]


class TourRiskOut(Forbidding):
    """What may happen on a tour, before and after packages of work.

    Attributes:
        planned_use: id of the stored tour that this is; null where it was told in the question.
        before: chance of a stop with nothing done, by the parts on record.
        contributors: the parts that make it up, the largest first.
        found_bad: parts found worn or failed and still fitted: renew them first; they are not reckoned with.
    """

    vehicle_id: str
    vehicle_name: str
    planned_use: str | None
    starts_on: date
    ends_on: date
    distance: DistanceOut
    currency: str
    before: OddsOut
    contributors: list[ContributorOut]
    packages: list[PackageOut]
    spares: list[SpareOut]
    found_bad: list[FoundBadOut]
    cautions: list[str]
    notes: list[str]
