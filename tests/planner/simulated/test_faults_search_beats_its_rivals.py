"""The planner against two usual ways of looking, on faults drawn from the book; stated margins 15 % and 20 %."""

import math

import numpy as np
import pytest

from planner.faults.next_step import choose
from tests.planner.simulated.book_worlds import draw
from tests.planner.simulated.fault_rivals import RIVALS
from tests.planner.simulated.fault_world import play

STATED = {"check the likeliest, then renew": 0.15, "cheapest action first": 0.20}


def run(numbers):
    """Total cost per case of the planner and of both variants of each rival, the same luck for all."""
    planner = np.array([play(draw(number), choose) for number in numbers])
    rivals = {
        name: [np.array([play(draw(number), policy) for number in numbers]) for policy in variants]
        for name, variants in RIVALS.items()
    }
    return planner, {name: min(costs, key=np.mean) for name, costs in rivals.items()}


def saving(planner, rival):
    """1 - mean cost ratio, and its standard error (delta method on the pairs)."""
    ratio = planner.mean() / rival.mean()
    error = np.std(planner - ratio * rival, ddof=1) / rival.mean() / math.sqrt(len(planner))
    return 1.0 - ratio, error


def test_on_sixty_drawn_faults_it_is_cheaper_than_both_rivals():
    planner, rivals = run(range(60))
    for name, costs in rivals.items():
        assert saving(planner, costs)[0] > 0.0, name


@pytest.mark.full
@pytest.mark.timeout(3600)
def test_on_two_thousand_drawn_faults_it_saves_the_stated_margins():
    planner, rivals = run(range(2000))
    print(f"\n2,000 drawn faults: planner {planner.mean():.1f} (se {planner.std() / math.sqrt(2000):.1f})")
    for name, costs in rivals.items():
        saved, error = saving(planner, costs)
        print(f"against {name!r} ({costs.mean():.1f}): saves {saved:.1%} (se {error:.1%})")
    for name, costs in rivals.items():
        assert saving(planner, costs)[0] >= STATED[name], name
