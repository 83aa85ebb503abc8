"""Answers about rules of kinds."""

from datetime import datetime

from api.schemas import Answer, DistanceOut


class RuleFigures(Answer):
    """One pair for all cars, whichever comes first.

    Attributes:
        distance, years: the pair; null: that clock should never decide, or (both) run to failure.
        cost_per_year: mean over the fleet under the rule, in the fleet's currency.
        cost_if_each_had_its_own: what one rule for all gives up against an interval for each car.
        cost_run_to_failure: if nothing were renewed early.
        distance_first: share of the cars that reach the distance first.
        cars: how many cars' yearly distances the rule is for; 0: such cars' usual spread.
    """

    distance: DistanceOut | None
    years: float | None
    cost_per_year: float
    cost_if_each_had_its_own: float
    cost_run_to_failure: float
    distance_first: float
    cars: int


class RuleOut(Answer):
    """The rule for a kind as last worked out.

    Attributes:
        rule: null: not worked out yet.
        up_to_date: it rests on the life and the terms that are in force now.
        worked_out_at: when; null likewise.
    """

    kind: str
    part: str
    currency: str
    rule: RuleFigures | None
    words: str
    up_to_date: bool
    worked_out_at: datetime | None
    safety: bool
    cautions: list[str]
