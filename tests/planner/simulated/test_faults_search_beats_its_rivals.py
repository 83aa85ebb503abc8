"""The planner against two usual ways of looking, on faults drawn from the book; stated margins 15 % and 20 %."""

import math

import numpy as np
import pytest

from planner.faults.next_step import choose
from tests.planner.simulated.book_worlds import draw
from tests.planner.simulated.fault_rivals import RIVALS
from tests.planner.simulated.fault_world import play

STATED = {"check the likeliest, then renew": 0.15, "cheapest action first": 0.20}


def costs_of(policy, numbers):
    """Total cost per case; the same cases and the same luck for every policy."""
    return np.array([play(draw(number), policy) for number in numbers])


def rival(name, gives_up):
    return lambda finding: RIVALS[name](finding, gives_up=gives_up)


def saving(planner, other, unavoidable=0.0):
    """1 - ratio of mean costs above what no policy can avoid, and its standard error (delta method on the pairs)."""
    ours, theirs = planner - unavoidable, other - unavoidable
    ratio = ours.mean() / theirs.mean()
    error = np.std(ours - ratio * theirs, ddof=1) / theirs.mean() / math.sqrt(len(ours))
    return 1.0 - ratio, error


def cure_alone(number):
    """Cost of going straight to what is wrong."""
    world = draw(number)
    finding = world.finding
    cost = sum(finding.cost(c) for c in finding.candidates if world.shows[c.part])
    if world.something_else:
        cost += finding.cost(finding.hand_over) + finding.hand_over.cure_elsewhere
    return cost


def test_on_sixty_drawn_faults_it_is_cheaper_than_both_rivals():
    planner = costs_of(choose, range(60))
    for name, stated in STATED.items():
        assert saving(planner, costs_of(rival(name, "never"), range(60)))[0] > stated, name


@pytest.mark.full
@pytest.mark.timeout(3600)
def test_on_two_thousand_drawn_faults_it_saves_the_stated_margins():
    numbers = range(2000)
    planner = costs_of(choose, numbers)
    straight = np.array([cure_alone(number) for number in numbers])
    error = planner.std() / math.sqrt(len(planner))
    print(
        f"\n2,000 drawn faults: planner {planner.mean():.1f} (se {error:.1f}); the cure alone {straight.mean():.1f}"
    )
    for name, stated in STATED.items():
        for gives_up in ("never", "half", "likeliest"):
            other = costs_of(rival(name, gives_up), numbers)
            (all_in, e), (search, f) = saving(planner, other), saving(planner, other, straight)
            print(
                f"{name}, gives up {gives_up}: {other.mean():.1f}; saves {all_in:.1%} (se {e:.1%}), "
                f"of the search alone {search:.1%} (se {f:.1%})"
            )
            assert all_in > (stated if gives_up == "never" else 2 * e), (name, gives_up)
