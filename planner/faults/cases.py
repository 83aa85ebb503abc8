"""A fault-finding kept as a case: opened, steps added, closed once, and what its closing says of each part's life."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.faults.errors import CaseClosed, FaultError
from planner.faults.picture import looked_at, picture_after, place
from planner.faults.values import Checked, Renewed
from planner.history.evidence import counts_as

if TYPE_CHECKING:
    from planner.faults.values import FaultFinding, Step
    from planner.history.evidence import Reason

SOMETHING_ELSE = "something else"
"""Key of every cause that is not one of the suspects."""


@dataclass(frozen=True)
class Closing:
    """How a case ended.

    Attributes:
        cured_by: parts renewed together in the step after which the complaint was gone; empty otherwise.
        something_else: whether it was cured by anything but a renewal of a suspect.
        confirmed: parts that a bench test or tear-down showed to have failed, among those taken out.

    Neither cured_by nor something_else: given up, the complaint still there.

    Raises:
        FaultError: both a renewal and something else are said to have cured it.
    """

    cured_by: tuple[str, ...] = ()
    something_else: bool = False
    confirmed: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.cured_by and self.something_else:
            raise FaultError("something_else", "one cure: the renewal or something else", self.something_else)


@dataclass(frozen=True)
class PartEvidence:
    """What a closed case says of one part that was taken out; the words are those of a removal record.

    Attributes:
        part: its reference (the part taken out, not its successor).
        reason: why it came out.
        cured: whether the complaint went away with it.
        changed_together: parts renewed in the same step.
        event_weight: chance that it had failed; the rest of the weight is a part still good (right-censored).
        fit: c_j of a masked cause: how well its failure fits the complaint and its checks, up to a scale.
    """

    part: str
    reason: Reason
    cured: bool
    changed_together: int
    event_weight: float
    fit: float


@dataclass(frozen=True)
class CaseEvidence:
    """All that a closed case leaves behind.

    Attributes:
        parts: one entry per part taken out, in order; entries of one cure with `changed_together` above 1 are
            one masked cause: exactly one of them, log sum of fit * hazard.
        causes: chance of each part, and of something else, to have been the cause; sums to 1. Empty if given up.
    """

    parts: tuple[PartEvidence, ...]
    causes: dict[str, float]


@dataclass(frozen=True)
class FaultCase:
    """A fault-finding with its end, if it has one. Changes give a new value; the old one stays as it was."""

    finding: FaultFinding
    closing: Closing | None = None

    def with_steps(self, *steps: Step) -> FaultCase:
        """The case with further steps.

        Raises:
            CaseClosed: it is closed.
            PartNotOnCar, ContradictoryResults: a step does not fit this car or the steps before it.
        """
        self._still_open()
        longer = self.finding.after(*steps)
        picture_after(longer, averaged=True)
        return replace(self, finding=longer)

    def close(self, closing: Closing) -> FaultCase:
        """The case with its end.

        Raises:
            CaseClosed: it is closed already.
            PartNotOnCar: the closing names a part that is not among the suspects.
            FaultError: a confirmed part was never taken out.
        """
        self._still_open()
        for field, parts in (("cured_by", closing.cured_by), ("confirmed", closing.confirmed)):
            for part in parts:
                place(self.finding, part, field)
        taken_out = {*closing.cured_by, *_renewed_without_cure(self.finding)}
        if kept := set(closing.confirmed) - taken_out:
            raise FaultError("confirmed", "parts that were taken out", sorted(kept))
        return replace(self, closing=closing)

    def evidence(self) -> CaseEvidence:
        """What the closed case says of the parts taken out and of the cause.

        Raises:
            FaultError: the case is still open.
        """
        if self.closing is None:
            raise FaultError("closing", "a closed case", None)
        return _evidence(self.finding, self.closing)

    def _still_open(self) -> None:
        if self.closing is not None:
            raise CaseClosed("case", "a case that is still open", self.closing)


def masked_weights(finding: FaultFinding, parts: tuple[str, ...]) -> dict[str, tuple[float, float]]:
    """Weight and fit of each of several parts renewed together, one of which was the cause.

    Weight = fit * (e^hazard - 1), scaled to sum to 1; fit = P(complaint | faulty) times the likelihood ratio of its checks.
    """
    belief = picture_after(finding, averaged=True).simple
    raw = {}
    for part in parts:
        position = place(finding, part, "cured_by")
        candidate, piece = finding.candidates[position], belief.in_place[position]
        prior = candidate.new_part_fault if piece.first else float(np.mean(candidate.faulty))
        fit = candidate.share * piece.check_ratio
        raw[part] = (fit, fit * prior / (1.0 - prior))
    total = sum(weight for _, weight in raw.values())
    even = 1.0 / len(parts)
    return {part: (weight / total if total > 0.0 else even, fit) for part, (fit, weight) in raw.items()}


def _evidence(finding: FaultFinding, closing: Closing) -> CaseEvidence:
    rows = []
    for step in finding.steps:
        if isinstance(step, Renewed):
            together = len(step.parts)
            rows += [_not_cured(part, together, confirmed=part in closing.confirmed) for part in step.parts]
    cured = _cured(finding, closing) if closing.cured_by else []
    causes: dict[str, float] = {}
    if cured:
        causes = {row.part: row.event_weight for row in cured}
    if cured or closing.something_else:
        causes[SOMETHING_ELSE] = 1.0 - sum(causes.values())
    return CaseEvidence(parts=(*rows, *cured), causes=causes)


def _not_cured(part: str, together: int, *, confirmed: bool) -> PartEvidence:
    reason: Reason = "failed, confirmed" if confirmed else "on suspicion"
    weight = counts_as(reason, cured=False, changed_together=together).event_weight
    return PartEvidence(part, reason, cured=False, changed_together=together, event_weight=weight, fit=0.0)


def _cured(finding: FaultFinding, closing: Closing) -> list[PartEvidence]:
    """The renewal that cured: one guilty part, or exactly one of several."""
    parts, together = closing.cured_by, len(closing.cured_by)
    guilty = [part for part in parts if part in closing.confirmed]
    weights = masked_weights(finding, parts)
    rows = []
    for part in parts:
        share, fit = weights[part]
        reason: Reason = "failed, as reported" if _showed_bad(finding, part) else "on suspicion"
        if guilty:
            reason, weight = _with_a_guilty_one(part, guilty)
        else:
            weight = together * share * counts_as(reason, cured=True, changed_together=together).event_weight
        rows.append(PartEvidence(part, reason, True, together, min(weight, 1.0), fit))  # noqa: FBT003 - cured
    return rows


def _with_a_guilty_one(part: str, guilty: list[str]) -> tuple[Reason, float]:
    """A bench test found the guilty one: it failed, the others came out with it."""
    return ("failed, confirmed", 1.0 / len(guilty)) if part in guilty else ("while there", 0.0)


def _showed_bad(finding: FaultFinding, part: str) -> bool:
    """Whether a check showed bad with this part as the only one it looked at, or named it."""
    for number, step in enumerate(finding.steps):
        if isinstance(step, Checked):
            parts = looked_at(finding, step, f"steps[{number}]")
            shown = (
                step.shows_bad if isinstance(step.shows_bad, bool) else dict(step.shows_bad).get(part, False)
            )
            if part in parts and shown and (len(parts) == 1 or not isinstance(step.shows_bad, bool)):
                return True
    return False


def _renewed_without_cure(finding: FaultFinding) -> list[str]:
    return [part for step in finding.steps if isinstance(step, Renewed) for part in step.parts]
