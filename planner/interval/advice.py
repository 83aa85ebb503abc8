"""The advice on one part kind at one yearly distance: renew when, at what cost, bound by what."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

BoundBy = Literal["cost", "risk", "cap", "run to failure"]

BOUNDS: tuple[BoundBy, ...] = ("cost", "risk", "cap", "run to failure")
"""What can decide an interval, in the order of the codes used in tables."""


@dataclass(frozen=True)
class Interval:
    """When to renew, counted from fitting, whichever clock comes first.

    Attributes:
        km: distance at renewal on the car's straight path, kilometres; infinite for run to failure; None where
            no yearly distance was given or the car stands still (then only the years count).
        years: age at renewal; infinite for run to failure.
        cost_per_year: expected cost per year of following the advice, in the unit of the costs.
        cost_run_to_failure: expected cost per year of renewing only what has failed.
        run_to_failure: True where the advice is to run to failure and carry a spare.
        bound_by: what decided: "cost", "risk", "cap" or "run to failure".
        within_5_percent: (low, high) in years around the renewal where the cost stays within 5 % of the cost at
            it, never past a cap or risk limit: the keeper's slack.
        reason: the advice in one plain sentence.
        km_per_year: the yearly distance it holds for, kilometres a year, or None.
        chance_by_then: chance that a new part fails before its renewal, averaged over what is not known.
        flips_at_failure_cost: failure cost at which renewing and running to failure change places (planned cost
            unchanged), or None where there is none or a limit decides.
        wears_most: the clock that does most of the wearing up to the renewal, "distance" or "age"; None where
            nothing wears.
    """

    km: float | None
    years: float
    cost_per_year: float
    cost_run_to_failure: float
    run_to_failure: bool
    bound_by: BoundBy
    within_5_percent: tuple[float, float]
    reason: str
    km_per_year: float | None = None
    chance_by_then: float = 1.0
    flips_at_failure_cost: float | None = None
    wears_most: str | None = None
