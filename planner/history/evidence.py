"""What each reason for a removal is worth as evidence: failure, limit, still good, or a share of each."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping

Reason = Literal[
    "failed, confirmed",
    "failed, as reported",
    "worn to limit",
    "looked worn",
    "preventive",
    "while there",
    "on suspicion",
    "found dead after standing",
    "recall",
    "upgrade",
    "accident",
    "theft",
    "damaged by another part",
    "sold",
    "moved to another car",
    "unknown",
]

MOVED: Reason = "moved to another car"
"""Reason of a part that goes on elsewhere, with an engine for example."""

Ending = Literal["failed in use", "found at its limit", "died standing", "still good"]
"""How a spell ends: at one moment, between two looks, while the car stood, or without the part's own doing."""


@dataclass(frozen=True)
class Counts:
    """How a removal enters the life data.

    Attributes:
        ending: what the event is, where there was one.
        event_weight: chance, 0 to 1, that the part had failed; the rest of the weight is a part still good.
        source: where the figure comes from.
    """

    ending: Ending
    event_weight: float
    source: str


_STILL_GOOD = "the part came out for another cause than its own wear; the cause is kept beside the spell"

BY_REASON: Mapping[Reason, Counts] = MappingProxyType(
    {
        "failed, confirmed": Counts("failed in use", 1.0, "a test or tear-down showed it"),
        "failed, as reported": Counts(
            "failed in use", 0.85, "expert judgement: reported, and the fault went away"
        ),
        "worn to limit": Counts("found at its limit", 1.0, "the limit was passed since the last good look"),
        "looked worn": Counts(
            "found at its limit", 1.0, "renewal for looks is informative: never counted as plain still-good"
        ),
        "found dead after standing": Counts("died standing", 1.0, "the years passed, the distance did not"),
        "unknown": Counts("failed in use", 0.25, "expert judgement: most renewals are not failures"),
        "on suspicion": Counts(
            "failed in use", 0.75, "expert judgement: cured, and no other part was changed"
        ),
        **dict.fromkeys(
            (
                "preventive",
                "while there",
                "recall",
                "upgrade",
                "accident",
                "theft",
                "damaged by another part",
                "sold",
                MOVED,
            ),
            Counts("still good", 0.0, _STILL_GOOD),
        ),
    }
)
"""The plain case of each reason; `counts_as` adds what the outcome says."""

SHARED_CURE = 0.8
"""Chance that one of several parts changed together was guilty, once the fault went away (expert judgement)."""

OUTCOME_UNKNOWN = 0.25
"""Event weight of a part changed on suspicion where nobody wrote down whether it helped (as for an unknown reason)."""


def counts_as(reason: Reason, cured: bool | None, changed_together: int = 1) -> Counts:
    """Say what a removal is worth.

    Changed on suspicion, and the fault stayed: the part was good, and scoring it as a failure is the commonest mistake in
    home records. Several parts changed together and cured: the plain form here gives each an equal share of
    `SHARED_CURE`; which part was guilty can be weighed by their hazards where the shared event is marked.

    Args:
        reason: why the part came out.
        cured: whether the complaint went away; None where unknown.
        changed_together: parts changed against the same complaint, this one included.

    Returns:
        The ending, the weight of the event and where the weight comes from.
    """
    plain = BY_REASON[reason]
    if reason not in ("on suspicion", "failed, as reported"):
        return plain
    if cured is False:
        return Counts("still good", 0.0, "the fault stayed, so the part was good")
    if reason == "failed, as reported" and changed_together == 1:
        return plain
    if cured is None and reason == "on suspicion":
        return Counts(
            "failed in use", OUTCOME_UNKNOWN / changed_together, "outcome unknown: as for an unknown reason"
        )
    if changed_together > 1:
        weight = SHARED_CURE / changed_together
        return Counts(
            "failed in use", weight, f"cured, one of {changed_together} parts changed together was guilty"
        )
    return plain
