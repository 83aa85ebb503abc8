"""Answers about ways of living with a part."""

from typing import Literal

from api.schemas import Answer, DistanceOut

PolicyName = Literal["renew", "inspect", "run with a spare aboard", "run without", "rule of thumb"]


class PolicyOut(Answer):
    """One way of living with the part.

    Attributes:
        every: years between renewals (or checks); null where there are none.
        distance: the same as distance, as the car is driven; null likewise.
        cost_per_year: expected, in the fleet's currency.
        allowed: false where a hard cap or a risk limit forbids it, however cheap it looks.
    """

    name: PolicyName
    every: float | None
    distance: DistanceOut | None
    cost_per_year: float
    allowed: bool


class PartPolicies(Answer):
    """The ways that apply to one part, the cheapest allowed one first.

    Attributes:
        flips_at_failure_cost: failure cost at which renewing and running to failure change places; null: none, or a limit
            decides.
    """

    fitment_id: str
    kind: str
    part: str
    position: str | None
    planned: float
    failure: float
    policies: list[PolicyOut]
    flips_at_failure_cost: float | None
    safety: bool
    cautions: list[str]


class PoliciesOut(Answer):
    """The ways that apply to a car's parts in service."""

    vehicle_id: str
    vehicle_name: str
    currency: str
    yearly_distance: DistanceOut | None
    items: list[PartPolicies]
    notes: list[str]
