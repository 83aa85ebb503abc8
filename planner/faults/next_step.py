"""The next step: the cheapest expected way to the cure, what each outcome would do, and whether to buy yet."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.faults.lookahead import EXACT_UP_TO, action_costs, best_action, tree_size
from planner.faults.reasons import NOTHING_SAVED, in_round, reason_of, told_as_due
from planner.faults.search import HAND_OVER, Action, Search
from planner.faults.suspects import Ranking, rank
from planner.faults.values import Checked, Renewed
from planner.faults.words import odds_in_words, to_record

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.faults.search import Branch, Kind, State
    from planner.faults.values import FaultFinding

BROUGHT_FORWARD_FOR = 0.05
"""A renewal that is cheap only because it is near anyway must save this share of what is still to come (judgement): its money is
spent today, on a part that may be good, and a check keeps the choice."""

WORTH_SAYING = 1e-4
"""Outcomes rarer than this are not spelled out."""


@dataclass(frozen=True)
class Option:
    """One thing that can be done next.

    Attributes:
        kind: "check", "renew" or "hand over".
        ref: id of the check or reference of the part; empty for handing over.
        name: in words.
        money: outlay in money.
        minutes: outlay in time.
        outlay: both in the currency of the money figures.
        expected_cost: outlay plus the expected cost to the cure after it, the best known way; less what would be spent anyway on
            each part renewed on that way.
        caution: what can hurt; empty if nothing special.
        due_anyway: why the part is to be renewed whatever the fault is; empty if it is not.
        spent_anyway: of the outlay of a renewal, what would be spent before long whatever the fault is.
    """

    kind: Kind
    ref: str
    name: str
    money: float
    minutes: float
    outlay: float
    expected_cost: float
    caution: str = ""
    due_anyway: str = ""
    spent_anyway: float = 0.0


@dataclass(frozen=True)
class Outcome:
    """What may come of the recommended step.

    Attributes:
        words: what would be seen, e.g. "HT leads: shows bad".
        chance: how likely that is.
        ranking: the suspects after it; None once the complaint is cured.
    """

    words: str
    chance: float
    ranking: Ranking | None


@dataclass(frozen=True)
class Advice:
    """What to do next and why.

    Attributes:
        step: the recommended step.
        options: everything that can be done, cheapest expected way first; the step is the first.
        outcomes: what may come of the step, likeliest first.
        ranking: the suspects as they stand.
        value_of_checking: what checking first saves, in expectation, against the best way that begins with a
            renewal or with handing over; 0 where the step is no check.
        due_anyway: which suspects are to be renewed whatever the fault is, and why, and whose own renewal is near; with what of
            their renewal would be spent anyway. Empty if none.
        dont_buy_yet: why not to buy a part yet, other than those; empty where buying is right or nothing is to be bought.
        stop_driving: why the car must not be driven; empty if it may.
        warning: what else to mind with this complaint.
        record: which kinds that the book suspects are not on record, and that they should be; empty if none.
        exact: whether the whole decision tree was searched.
        reason: in one or two sentences.
    """

    step: Option
    options: tuple[Option, ...]
    outcomes: tuple[Outcome, ...]
    ranking: Ranking
    value_of_checking: float
    due_anyway: str
    dont_buy_yet: str
    stop_driving: str
    warning: str
    record: str
    exact: bool
    reason: str


def advise(finding: FaultFinding, *, exact_up_to: int = EXACT_UP_TO) -> Advice:
    """Advise on the next step of a fault-finding.

    Raises:
        PartNotOnCar: a step names a part or a check that this finding does not hold.
        ContradictoryResults: the same check of the same part in place showed bad and good.
    """
    search = Search(finding)
    state = search.start()
    costs = action_costs(search, state, exact_up_to=exact_up_to)
    step = _first(search, costs)
    order = sorted(costs, key=lambda action: (action != step, costs[action]))
    options = tuple(_option(search, state, action, costs[action]) for action in order)
    ranking = rank(finding)
    saved = _value_of_checking(costs, step)
    due = _due_anyway(finding, ranking)
    return Advice(
        step=options[0],
        options=options,
        outcomes=_outcomes(search, state, step),
        ranking=ranking,
        value_of_checking=saved,
        due_anyway=told_as_due(finding, ranking),
        dont_buy_yet=_dont_buy_yet(search, costs, ranking, saved, due),
        stop_driving=finding.stop_driving,
        warning=finding.warning,
        record=to_record(finding.not_on_record),
        exact=tree_size(search, state) <= exact_up_to,
        reason=reason_of(finding, options, ranking, saved),
    )


def choose(finding: FaultFinding, *, exact_up_to: int = EXACT_UP_TO) -> Action:
    """The recommended action alone, without the words."""
    search = Search(finding)
    return best_action(action_costs(search, search.start(), exact_up_to=exact_up_to))


def _first(search: Search, costs: dict[Action, float]) -> Action:
    """The action with the least expected cost; a check before a renewal that is near anyway and saves little against it."""
    best = best_action(costs)
    if best.kind != "renew" or not search.finding.candidates[best.index].spent_anyway:
        return best
    checks = {action: cost for action, cost in costs.items() if action.kind == "check"}
    as_good = min(checks.values(), default=math.inf) <= costs[best] * (1.0 + BROUGHT_FORWARD_FOR)
    return best_action(checks) if as_good else best


def _option(search: Search, state: State, action: Action, expected_cost: float) -> Option:
    finding = search.finding
    if action.kind == "check":
        check, outlay = finding.checks[action.index], search.cost(state, action)
        return Option(
            "check", check.id, check.name, check.money, check.minutes, outlay, expected_cost, check.caution
        )
    if action.kind == "renew":
        part = finding.candidates[action.index]
        return Option(
            "renew",
            part.part,
            part.name,
            part.money,
            part.minutes,
            finding.cost(part),
            expected_cost,
            part.caution,
            part.due_anyway,
            part.spent_anyway,
        )
    last, outlay = finding.hand_over, search.cost(state, action)
    return Option(
        "hand over", "", "hand over to a specialist", last.money, last.minutes, outlay, expected_cost
    )


def _outcomes(search: Search, state: State, step: Action) -> tuple[Outcome, ...]:
    if step == HAND_OVER:
        return ()
    branches = [branch for branch in search.branches(state, step) if branch.chance >= WORTH_SAYING]
    branches.sort(key=lambda branch: -branch.chance)
    return tuple(_outcome(search, step, branch) for branch in branches)


def _outcome(search: Search, step: Action, branch: Branch) -> Outcome:
    finding = search.finding
    if step.kind == "renew":
        part = finding.candidates[step.index].part
        if branch.state is None:
            return Outcome("cured", branch.chance, None)
        return Outcome("not cured", branch.chance, rank(finding.after(Renewed((part,)))))
    check = finding.checks[step.index]
    shown = tuple((finding.candidates[place], bad) for place, bad in branch.shows_bad)
    if check.one_result and len(shown) > 1:
        bad, names = shown[0][1], ", ".join(candidate.name for candidate, _ in shown)
        words = f"{names}: one of them shows bad" if bad else f"{names}: all show good"
        return Outcome(words, branch.chance, rank(finding.after(Checked(check.id, bad))))
    words = "; ".join(f"{candidate.name}: shows {'bad' if bad else 'good'}" for candidate, bad in shown)
    seen = tuple((candidate.part, bad) for candidate, bad in shown)
    return Outcome(words, branch.chance, rank(finding.after(Checked(check.id, seen))))


def _value_of_checking(costs: dict[Action, float], step: Action) -> float:
    if step.kind != "check":
        return 0.0
    return max(min(cost for action, cost in costs.items() if action.kind != "check") - costs[step], 0.0)


def _due_anyway(finding: FaultFinding, ranking: Ranking) -> dict[str, str]:
    """Why each part that is still the one that was due has to be renewed anyway."""
    return {
        one.part: one.due_anyway
        for one in finding.candidates
        if one.due_anyway and not ranking.of(one.part).renewed
    }


def _dont_buy_yet(
    search: Search, costs: dict[Action, float], ranking: Ranking, saved: float, due: Mapping[str, str]
) -> str:
    """Of parts that are due anyway it says nothing: they are bought whatever the fault is."""
    step = _first(search, costs)
    open_to_doubt = [one for one in ranking.suspects if one.part not in due]
    if step.kind != "check" or not open_to_doubt:
        return ""
    check, first = search.finding.checks[step.index], open_to_doubt[0]
    leads = "leads" if first is ranking.suspects[0] else "stands"
    said = f"Don't buy {'another' if due else 'a'} part yet: {first.name} {leads} at {odds_in_words(first.cause)}"
    if saved < NOTHING_SAVED * costs[step]:
        return f"{said}, too little to buy on."
    return (
        f"{said}, and {check.name} "
        f"({check.minutes:.0f} min) saves about {in_round(saved)} on average against buying or handing over now."
    )
