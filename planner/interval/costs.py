"""What a planned renewal and a failure cost, and the default figures per part kind."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.errors import CostError
from planner.interval.checks import number, positive

if TYPE_CHECKING:
    from planner.catalogue import PartKind

PART_PRICE = {"A": 12.0, "B": 40.0, "C": 155.0, "D": 550.0, "E": 1400.0}
"""Middle price per cost class (judgement): the geometric middle of A < 20, B 20-80, C 80-300, D 300-1,000
and a guess for E > 1,000, in units of the order of a euro of the 2020s."""

HOURLY_RATE = 60.0
"""What an hour counts where nobody says otherwise (judgement), in the same units."""

LABOUR_SHARE = 0.5
"""Share of the labour that a planned renewal carries (judgement): it is done at a visit together with other
work behind the same access, so about half of the time stands against this part alone."""

DIAGNOSIS_HOURS = 1.0
"""Time to find out which part failed, or the unplanned visit (judgement); a planned renewal needs none."""

RECOVERY = 150.0
"""Bringing a stopped car home or to a workshop (judgement; clubs often pay it, somebody does)."""

SPOILT_TRIP = 250.0
"""The day, the booking and the onward travel lost when the car stops (judgement)."""

COLLATERAL = {
    "engine destroyed": 2500.0,
    "engine damage": 1500.0,
    "head-gasket damage": 300.0,
    "overheat": 200.0,
}
"""Damage beyond the part itself, averaged over how often it comes (judgement), by what the effect says."""

SAFETY_HARM = 500.0
"""Added to the failure of a safety part (judgement): one in fifty ends in damage of some 25,000. Harm to people has
no price here; caps and risk limits, not this figure, keep a safety part safe."""

WARNED = 0.2
"""For a safety part that warns before it harms, or is renewed at a limit with a margin (judgement): the share of its
harm that is left. A brake servo hose leaves brakes that need a harder foot; a wheel bearing is heard for weeks; fluid at the
wet reference still boils only near 140 degrees, so it takes a long, hot descent as well."""

WARNS = ("hard brake pedal", "if ignored", "vapour lock")
"""The effects that `WARNED` is for. Without it a servo hose came out at 3.5 years and brake fluid at 1.2, where
common practice (no source) is to renew the one with the other hoses and the other every 18 to 24 months."""

UNNOTICED = 0.2
"""For parts that end at a limit of wear rather than in a failure (judgement): the share that runs past the limit long
enough to do the harm; the others are found at a check and cost an unplanned visit."""

_AMOUNT = "a positive, finite amount"


@dataclass(frozen=True)
class Costs:
    """Costs of one part kind in one currency; only their ratio decides the interval.

    Attributes:
        planned: one planned renewal (part, its share of the labour, downtime); positive.
        failure: one failure in use (the renewal, recovery, collateral damage, spoilt trip); at least `planned`.
        new_part_fault: chance that a new part is bad from the shelf or badly fitted, 0 or more and below 1.

    Raises:
        CostError: a cost is not positive and finite, failure is cheaper than planned work, or the chance is no
            chance.
    """

    planned: float
    failure: float
    new_part_fault: float = 0.0

    def __post_init__(self) -> None:
        positive("planned", self.planned, _AMOUNT)
        positive("failure", self.failure, _AMOUNT)
        if self.failure < self.planned:
            raise CostError("failure", f"at least the planned cost ({self.planned:g})", self.failure)
        fault = number("new_part_fault", self.new_part_fault, "a chance of 0 or more and below 1")
        if not 0.0 <= fault < 1.0:
            raise CostError("new_part_fault", "a chance of 0 or more and below 1", self.new_part_fault)


def default_costs(kind: PartKind, *, hourly_rate: float = HOURLY_RATE) -> Costs:
    """Costs of a kind from the catalogue's cost class, labour hours and failure effect.

    Every figure behind them is judgement (see the constants of this file) and meant to be overridden by the
    keeper's own. The unit is whatever currency `hourly_rate` is in, at prices of the order of a euro.

    Raises:
        CostError: `hourly_rate` is not positive and finite.
    """
    positive("hourly_rate", hourly_rate, _AMOUNT)
    price = PART_PRICE[kind.cost_class]
    labour = hourly_rate * sum(kind.labour_hours) / 2.0
    failure = price + labour + hourly_rate * DIAGNOSIS_HOURS
    failure += kind.stops_car * (RECOVERY + SPOILT_TRIP) + _collateral(kind)
    return Costs(planned=price + LABOUR_SHARE * labour, failure=failure, new_part_fault=kind.new_part_fault)


def _collateral(kind: PartKind) -> float:
    effect = kind.failure_effect.lower()
    damage = max((cost for words, cost in COLLATERAL.items() if words in effect), default=0.0)
    warned = WARNED if any(words in effect for words in WARNS) else 1.0
    harm = damage + (SAFETY_HARM * warned if kind.safety else 0.0)
    return harm * UNNOTICED if kind.end_of_life == "limit" else harm
