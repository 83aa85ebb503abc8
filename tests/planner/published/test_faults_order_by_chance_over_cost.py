"""Single fault, perfect actions, fixed costs: chance over cost is optimal; and imperfect search of boxes.

The rule is proved in Kalagnanam & Henrion, "A comparison of decision analysis and expert rules for sequential
diagnosis" (1988, motorcycle engines, cost over chance ascending) and used by Heckerman, Breese & Rommelse,
"Decision-theoretic troubleshooting" (Communications of the ACM 38(3), 1995). No worked example with all its
numbers was at hand, so the figures below are ours and every expected cost is derived here by trying all orders.
"""

import itertools

import numpy as np
import pytest

from planner.faults.index import LastResort, remaining_cost, stretches
from planner.faults.lookahead import WholeTree, action_costs, best_action
from planner.faults.search import Search
from planner.faults.values import Candidate, FaultFinding, HandOver

CHANCE = {"plugs": 0.40, "leads": 0.30, "cap": 0.20, "coil": 0.10}
COST = {"plugs": 40.0, "leads": 60.0, "cap": 10.0, "coil": 90.0}


def cost_of_order(order, chance, cost):
    """Pay for each part until the guilty one has been renewed."""
    spent, total = 0.0, 0.0
    for part in order:
        spent += cost[part]
        total += chance[part] * spent
    return total


def tiny_faults(chance, cost):
    """The same example in the product's own terms: hazards so small that a second fault has no weight."""
    parts = tuple(Candidate(p, p, 1e-8 * c, 1.0, cost[p], 0.0) for p, c in chance.items())
    return FaultFinding("rough", parts, 1e-20, hand_over=HandOver(1e5))


def test_the_textbook_example_by_all_orders():
    orders = {order: cost_of_order(order, CHANCE, COST) for order in itertools.permutations(CHANCE)}
    best = min(orders, key=orders.get)
    assert best == ("cap", "plugs", "leads", "coil")  # 0.020, 0.010, 0.005, 0.0011 per unit of cost
    assert orders[best] == pytest.approx(0.2 * 10 + 0.4 * 50 + 0.3 * 110 + 0.1 * 200) == pytest.approx(75.0)
    by_chance = cost_of_order(("plugs", "leads", "cap", "coil"), CHANCE, COST)
    by_cost = cost_of_order(("cap", "plugs", "leads", "coil"), CHANCE, COST)
    assert by_chance == pytest.approx(88.0)
    assert by_cost == pytest.approx(75.0)  # the cheapest-first order happens to agree here; see the next test

    search = Search(tiny_faults(CHANCE, COST))
    assert WholeTree(search).cost(search.start()) == pytest.approx(75.0, rel=1e-6)


@pytest.mark.parametrize("exact_up_to", [0, 10_000])
@pytest.mark.parametrize("seed", range(25))
def test_the_planner_follows_chance_over_cost_to_the_end(seed, exact_up_to):
    rng = np.random.default_rng(seed)
    names = ["a", "b", "c", "d", "e"]
    chance = dict(zip(names, rng.dirichlet(np.ones(5)), strict=True))
    cost = dict(zip(names, rng.uniform(5, 200, 5), strict=True))
    best = min(itertools.permutations(names), key=lambda order: cost_of_order(order, chance, cost))
    assert list(best) == sorted(names, key=lambda n: -chance[n] / cost[n])
    search = Search(tiny_faults(chance, cost))
    state, order = search.start(), []
    while len(order) < 4:  # with one part left its chance is all that stands
        costs = action_costs(search, state, exact_up_to=exact_up_to)
        action = best_action(costs)
        if not order:
            assert costs[action] == pytest.approx(cost_of_order(best, chance, cost), rel=1e-6)
        order.append(search.finding.candidates[action.index].part)
        state = search.branches(state, action)[1].state
    assert order == list(best[:4])


def test_the_index_of_a_part_without_checks_is_chance_over_cost():
    only = stretches(80.0, 0.0, ())
    assert len(only) == 1
    assert only[0].index == pytest.approx(1 / 80.0)


@pytest.mark.parametrize("seed", range(10))
def test_imperfect_search_of_boxes_follows_chance_of_detection_over_cost(seed):
    """Blackwell's rule (quoted in Chew 1967, Annals of Mathematical Statistics 38:494-502): look where the chance of
    detection over cost is largest now. A check without false alarms is such a look; what it overlooks is left to the
    renewal. Against all orders in which each part is looked at before it is renewed."""
    rng = np.random.default_rng(seed)
    looks = {p: (rng.uniform(2, 20), rng.uniform(0.4, 0.95)) for p in "abc"}
    renewal = {p: rng.uniform(100, 900) for p in "abc"}
    chance = dict(zip("abc", rng.dirichlet(np.ones(3)), strict=True))
    no_alarm = 1e-13
    work = [stretches(renewal[p], 0.0, ((*looks[p], no_alarm),)) for p in "abc"]
    for part, (first, later, *_) in zip("abc", work, strict=True):
        cost, found = looks[part]
        assert (first.index, first.cost) == pytest.approx((found / cost, cost), rel=1e-6)
        assert later.index == pytest.approx((1 - found) / renewal[part], rel=1e-6)
    orders = [
        o for o in itertools.permutations("abcABC") if all(o.index(p) < o.index(p.upper()) for p in "abc")
    ]
    expected = min(boxes_cost(order, looks, renewal, chance) for order in orders)
    single = remaining_cost([1e-8 * chance[p] for p in "abc"], work, LastResort(1e9, [0.0] * 3, 0.0), 1e-25)
    assert single == pytest.approx(expected, rel=1e-5)


def boxes_cost(order, looks, renewal, chance):
    """Lower case: look, and renew at once what is found. Upper case: renew without a further look."""
    total = 0.0
    for guilty, weight in chance.items():
        standing, spent = weight, 0.0
        for move in order:
            if move in looks:
                spent += looks[move][0]
                if move == guilty:
                    found = standing * looks[move][1]
                    total += found * (spent + renewal[move])
                    standing -= found
            else:
                spent += renewal[move.lower()]
                if move.lower() == guilty:
                    total += standing * spent
                    break
    return total
