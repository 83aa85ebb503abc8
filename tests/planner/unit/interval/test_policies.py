"""Policies side by side: what each costs, and what a limit forbids."""

import math

import pytest

from planner.errors import CostError
from planner.interval import Cap, Costs, best_interval
from planner.interval.inspection import Delay
from planner.interval.policies import Looking, Spare, compare_policies
from planner.life.model import known_life

LIFE = known_life(age=(2.5, 10.0))
COSTS = Costs(planned=60, failure=340)


def by_name(policies):
    return {policy.name: policy for policy in policies}


def test_each_policy_costs_what_its_own_rule_says():
    found = by_name(compare_policies(LIFE, COSTS, spare=Spare(90, 2), rule_of_thumb_years=3.0))
    best = best_interval(LIFE, COSTS)
    mean_life = 10 * math.gamma(1.4)
    assert (found["renew"].years, found["renew"].cost_per_year) == (best.years, best.cost_per_year)
    assert found["run without"].cost_per_year == pytest.approx(340 / mean_life)
    assert found["run with a spare aboard"].cost_per_year == pytest.approx(90 / mean_life + 2)
    assert found["rule of thumb"].cost_per_year > best.cost_per_year


def test_the_cheapest_allowed_policy_comes_first():
    with_spare = compare_policies(LIFE, COSTS, spare=Spare(70))
    assert with_spare[0].name == "run with a spare aboard"
    dear_spare = compare_policies(LIFE, COSTS, spare=Spare(300, 20))
    assert dear_spare[0].name == "renew"
    looking = Looking(cost=3, delay=Delay(2.0), delay_share=0.25, sensitivity=0.9)
    assert compare_policies(LIFE, Costs(200, 900), looking=looking)[0].name == "inspect"


def test_a_limit_forbids_running_and_checking_however_cheap():
    looking = Looking(cost=1, delay=Delay(3.0), delay_share=0.3)
    policies = compare_policies(
        LIFE, COSTS, spare=Spare(61), looking=looking, cap=Cap(years=4), rule_of_thumb_years=6
    )
    assert policies[0].name == "renew"
    assert policies[0].years <= 4
    assert [policy.name for policy in policies if policy.allowed] == ["renew"]
    risky = by_name(compare_policies(LIFE, COSTS, spare=Spare(61), max_risk=0.02))
    assert risky["renew"].years < best_interval(LIFE, COSTS).years
    assert not risky["run with a spare aboard"].allowed


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        ({"spare": Spare(341)}, "spare.failure_cost"),
        ({"spare": Spare(0)}, "spare.failure_cost"),
        ({"spare": Spare(90, -1)}, "spare.cost_per_year"),
        ({"rule_of_thumb_years": 0}, "rule_of_thumb_years"),
        ({"looking": Looking(0, Delay(1.0), 0.1)}, "check_cost"),
    ],
)
def test_bad_input_names_the_field(arguments, field):
    with pytest.raises(CostError) as refused:
        compare_policies(LIFE, COSTS, **arguments)
    assert refused.value.field == field
