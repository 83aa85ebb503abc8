"""Expected cost to the cure: the whole decision tree where it is small, steps ahead of an index rule beyond."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from planner.faults.index import CheckFigures, LastResort, Stretch, remaining_cost, stretches
from planner.faults.joint import curable_and_not
from planner.faults.search import HAND_OVER, Action, Search, State

if TYPE_CHECKING:
    from collections.abc import Callable

EXACT_UP_TO = 1_000
"""Bound on the states of the tree up to which it is searched whole."""

LOOKED_AT_TWICE = 4
"""Actions that are worked out two steps ahead: the best ones at one step."""

CHECKS_PER_PART = 3
"""Checks of one part that the index rule considers: the best ones by drop per cost."""


def action_costs(search: Search, state: State, *, exact_up_to: int = EXACT_UP_TO) -> dict[Action, float]:
    """Expected cost to the cure of each action, the best continuation known assumed after it.

    Exact where the tree is small; else one step ahead of the index rule, and two steps for the best few.
    """
    if tree_size(search, state) <= exact_up_to:
        ahead = WholeTree(search).cost
        return {action: action_cost(search, state, action, ahead) for action in search.actions(state)}
    rule = IndexRule(search)
    costs = {action: action_cost(search, state, action, rule.cost) for action in search.actions(state)}
    for action in sorted(costs, key=lambda action: costs[action])[:LOOKED_AT_TWICE]:
        costs[action] = action_cost(search, state, action, rule.cost_one_step_ahead)
    return costs


def action_cost(search: Search, state: State, action: Action, ahead: Callable[[State], float]) -> float:
    """Outlay of an action plus the expected cost after it."""
    return search.cost(state, action) + sum(
        branch.chance * ahead(branch.state)
        for branch in search.branches(state, action)
        if branch.state is not None and branch.chance > 0.0
    )


def tree_size(search: Search, state: State) -> float:
    """Upper bound on the number of states ahead: outcomes of open checks times orders of renewals."""
    open_parts = [place for place in range(len(search.renewal_costs)) if place not in state.renewed]
    targets = [search.open_targets(state, check) for check in range(len(search.readings))]
    outcomes = math.prod(2.0 ** len(row) + 1.0 for row in targets if row)
    orders = sum(math.perm(len(open_parts), k) for k in range(len(open_parts) + 1))
    return outcomes * orders


class WholeTree:
    """Expectimax over the whole tree, each state worked out once."""

    def __init__(self, search: Search) -> None:
        self.search = search
        self._known: dict[object, float] = {}

    def cost(self, state: State) -> float:
        """Least expected cost to the cure from a state."""
        known = self._known.get(state.key)
        if known is None:
            known = min(
                action_cost(self.search, state, action, self.cost) for action in self.search.actions(state)
            )
            self._known[state.key] = known
        return known


class IndexRule:
    """Expected cost of following the index rule from a state, in closed form."""

    def __init__(self, search: Search) -> None:
        self.search = search
        self._known: dict[object, float] = {}
        self._checks = [_best_checks(search, place) for place in range(len(search.renewal_costs))]

    def cost_one_step_ahead(self, state: State) -> float:
        """Expected cost of the best next action, the index rule after it."""
        known = self._known.get(state.key)
        if known is None:
            search = self.search
            known = min(action_cost(search, state, action, self.cost) for action in search.actions(state))
            self._known[state.key] = known
        return known

    def cost(self, state: State) -> float:
        """Expected cost to the cure under the index rule."""
        search = self.search
        work = [self.work(state, place) for place in range(len(search.renewal_costs))]
        acts, elsewhere = curable_and_not(state.picture.simple)
        fee, cure = search.search_fee, search.finding.hand_over.cure_elsewhere
        return remaining_cost(acts, work, LastResort(fee, search.renewal_costs, cure), elsewhere)

    def work(self, state: State, place: int) -> tuple[Stretch, ...]:
        """All work still open on one part; none once it was renewed."""
        if place in state.renewed:
            return ()
        piece = state.picture.simple.in_place[place]
        stays = state.picture.simple.new_part_faults[place] * piece.share
        left = [figures for check, figures in self._checks[place] if (check, place) not in state.made]
        return stretches(self.search.renewal_costs[place], stays, tuple(left[:CHECKS_PER_PART]))


def _best_checks(search: Search, place: int) -> list[tuple[int, CheckFigures]]:
    """Checks of one part with their figures, the best ones first: least cost per chance of finding the fault.

    A check with one result for several parts is left to the steps ahead: taken here for a check of each of them it would tell more
    than it does, and making it now would look worth too little.
    """
    renewal = search.renewal_costs[place]
    rows = [
        (check, (search.check_costs[check], row[place].sensitivity, 1.0 - row[place].specificity))
        for check, row in enumerate(search.readings)
        if place in row and not (search.finding.checks[check].one_result and len(row) > 1)
    ]
    return sorted(rows, key=lambda row: (row[1][0] + row[1][2] * renewal) / row[1][1])


def best_action(costs: dict[Action, float]) -> Action:
    """The action with the least expected cost; handing over only where nothing is cheaper."""
    return min(costs, key=lambda action: (costs[action], action == HAND_OVER))
