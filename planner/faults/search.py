"""The search for the cure as a decision tree: what can be done next, what may come of it, and how likely."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from planner.faults.joint import evidence_probability, joint
from planner.faults.picture import Picture, checks_done, picture_after
from planner.faults.values import Renewed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.faults.values import FaultFinding, Reading

Kind = Literal["check", "renew", "hand over"]


@dataclass(frozen=True, slots=True)
class Action:
    """One thing to do next.

    Attributes:
        kind: a check, a trial renewal, or handing over to a specialist.
        index: of the check among the checks, or of the part among the suspects; -1 for handing over.
    """

    kind: Kind
    index: int = -1


HAND_OVER = Action("hand over")


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """Where the search stands.

    Attributes:
        picture: what is known of every piece, one number per part.
        evidence: P(everything seen so far).
        results: (check, part, shows bad, whether the part was a new one by then) of checks made during the
            search; kept for parts taken out as well, whose results still weigh a little.
        made: (check, part) made on pieces now in place, before or during the search.
        renewed: parts renewed without cure, in order; they are not offered again.
    """

    picture: Picture
    evidence: float
    results: frozenset[tuple[int, int, bool, bool]]
    made: frozenset[tuple[int, int]]
    renewed: tuple[int, ...]

    @property
    def key(self) -> tuple[frozenset[tuple[int, int, bool, bool]], tuple[int, ...]]:
        """What tells this state from another of the same search."""
        return self.results, self.renewed


@dataclass(frozen=True, slots=True, eq=False)
class Branch:
    """One outcome of an action: its chance, what each part showed, and the state after it (None: cured)."""

    chance: float
    shows_bad: tuple[tuple[int, bool], ...]
    state: State | None


class Search:
    """Actions, outcomes and costs of one fault-finding; averages draws first (exact where draws are independent).

    Attributes:
        finding: the question.
        check_costs: outlay of each check; `search_fee` of a specialist's search.
        renewal_costs: outlay of each renewal, less what would be spent on that part anyway.
        readings: per check, the reading of each part it looks at, the chance that the fault is there counted in.
    """

    def __init__(self, finding: FaultFinding) -> None:
        self.finding = finding
        self.check_costs = tuple(finding.cost(check) for check in finding.checks)
        renewed = {part for step in finding.steps if isinstance(step, Renewed) for part in step.parts}
        self.renewal_costs = tuple(
            finding.cost(one) - (0.0 if one.part in renewed else one.spent_anyway)
            for one in finding.candidates
        )
        self.search_fee = finding.cost(finding.hand_over)
        places = {candidate.part: position for position, candidate in enumerate(finding.candidates)}
        self.readings: tuple[dict[int, Reading], ...] = tuple(
            {
                places[reading.part]: reading.with_presence(
                    finding.fault_present if check.needs_fault_present else 1.0
                )
                for reading in check.readings
                if reading.part in places
            }
            for check in finding.checks
        )

    def start(self) -> State:
        """The state after the finding's own steps."""
        finding = self.finding
        picture = picture_after(finding, averaged=True)
        names = {check.id: number for number, check in enumerate(finding.checks)}
        places = {candidate.part: position for position, candidate in enumerate(finding.candidates)}
        made = frozenset((names[check], places[part]) for check, part in checks_done(finding))
        renewed = [places[p] for step in finding.steps if isinstance(step, Renewed) for p in step.parts]
        evidence = float(evidence_probability(picture))
        return State(picture, evidence, frozenset(), made, tuple(dict.fromkeys(renewed)))

    def cost(self, state: State, action: Action) -> float:
        """Expected outlay for one action: money and time."""
        if action.kind == "check":
            return self.check_costs[action.index]
        return self.renewal_costs[action.index] if action.kind == "renew" else self.hand_over_cost(state)

    def hand_over_cost(self, state: State) -> float:
        """Expected cost of handing over: the search, and the cure of whatever shows the complaint."""
        now = joint(state.picture)
        cures = sum(cost * float(cause) for cost, cause in zip(self.renewal_costs, now.cause, strict=True))
        cures += self.finding.hand_over.cure_elsewhere * float(now.something_else)
        return self.search_fee + cures / float(now.evidence)

    def open_targets(self, state: State, check: int) -> tuple[int, ...]:
        """Parts of which this check can still say something new: in place from the start, not yet checked so.

        A check with one result is offered until it is made; it looks at parts renewed before it as well.
        """
        row = self.readings[check]
        fresh = tuple(
            place for place in row if place not in state.renewed and (check, place) not in state.made
        )
        if not self.finding.checks[check].one_result:
            return fresh
        made = any((check, place) in state.made for place in row)
        return () if made or not fresh else tuple(row)

    def actions(self, state: State) -> Iterator[Action]:
        """Everything that can be done next, handing over included."""
        for check in range(len(self.readings)):
            if self.open_targets(state, check):
                yield Action("check", check)
        for place in range(len(self.renewal_costs)):
            if place not in state.renewed:
                yield Action("renew", place)
        yield HAND_OVER

    def branches(self, state: State, action: Action) -> list[Branch]:
        """What may come of an action; chances sum to 1."""
        if action.kind == "hand over":
            return [Branch(1.0, (), None)]
        if action.kind == "renew":
            return self._after_renewal(state, action.index)
        return self._after_check(state, action.index)

    def _after_renewal(self, state: State, place: int) -> list[Branch]:
        picture = state.picture.after_renewal((place,))
        evidence = float(evidence_probability(picture))
        stays = min(evidence / state.evidence, 1.0)
        after = State(picture, evidence, state.results, state.made, (*state.renewed, place))
        return [Branch(1.0 - stays, (), None), Branch(stays, (), after)]

    def _after_check(self, state: State, check: int) -> list[Branch]:
        targets = self.open_targets(state, check)
        one = self.finding.checks[check].one_result
        outcomes = [(bad,) * len(targets) for bad in (True, False)] if one else _each_way(len(targets))
        return [
            self._branch(state, check, tuple(zip(targets, outcome, strict=True)), one_result=one)
            for outcome in outcomes
        ]

    def _branch(
        self, state: State, check: int, shows_bad: tuple[tuple[int, bool], ...], *, one_result: bool
    ) -> Branch:
        readings = {place: self.readings[check][place] for place, _ in shows_bad}
        picture = state.picture
        if one_result:
            picture = picture.after_one_result(readings, bad=shows_bad[0][1])
        else:
            for place, bad in shows_bad:
                picture = picture.after_reading(place, readings[place], bad=bad)
        evidence = max(float(evidence_probability(picture)), 0.0)
        seen = {(check, place, bad, place in state.renewed) for place, bad in shows_bad}
        made = state.made | {(check, place) for place, _ in shows_bad}
        after = State(picture, evidence, state.results | seen, made, state.renewed)
        return Branch(evidence / state.evidence, shows_bad, after)


def _each_way(parts: int) -> list[tuple[bool, ...]]:
    return list(itertools.product((True, False), repeat=parts))


def cause_weights(state: State) -> tuple[list[float], float]:
    """Chance of each part in place, and of something else alone, to be the cause; scaled to sum to 1."""
    now = joint(state.picture)
    weights = [float(cause) for cause in now.cause]
    elsewhere = float(now.something_else_alone)
    total = sum(weights) + elsewhere
    return [weight / total for weight in weights], elsewhere / total
