"""How often 90 % intervals hold a truth that the prior did not draw: one fixed truth, or a prior that is wrong.

Averaged over truths drawn from the prior, Bayesian intervals hold what they say. At one fixed truth they hold more where
the prior is right about it, and less where it lies in the prior's tails, until records outweigh the prior (Bayarri &
Berger, The Interplay of Bayesian and Frequentist Analysis, Statistical Science 19, 2004). These figures are reported.
"""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from functools import partial

import numpy as np
import pytest

from planner import fit_life
from tests.planner.simulated.recovery_runs import SHOWN, holds_truth
from tests.planner.simulated.recovery_world import PRIOR, fleet, prior_off_by

TRUTHS = {
    "the prior's middle": (0, 0, 0, 0),
    "lives one spread shorter": (0, -1, 0, -1),
    "lives one spread longer": (0, 1, 0, 1),
    "shapes one spread lower": (-1, 0, -1, 0),
    "shapes one spread higher": (1, 0, 1, 0),
    "lives two spreads shorter": (0, -2, 0, -2),
}
PRIORS = {"scales 1.5 times too long": 1.5, "scales 1.5 times too short": 1 / 1.5}


def held(number, histories, spreads=None, factor=1.0):
    """Whether the intervals hold the truth in one fleet; the truth so many spreads off the prior's middle."""
    truth = None if spreads is None else PRIOR.mean + PRIOR.spread * np.array(spreads)
    one = fleet(number, histories, truth)
    return holds_truth(
        one, fit_life(one.spells, PRIOR if factor == 1.0 else prior_off_by(factor), seed=number)
    )


def coverage(count, each):
    """Share of fleets whose interval holds the truth, by what is estimated."""
    with ProcessPoolExecutor(2) as pool:
        return dict(
            zip(SHOWN, np.mean(list(pool.map(each, range(count), chunksize=25)), axis=0), strict=True)
        )


def told(name, histories, found):
    print(f"{histories} histories, {name}: " + ", ".join(f"{n} {100 * v:.1f} %" for n, v in found.items()))


def test_at_the_priors_middle_intervals_hold_more_than_they_say():
    found = np.mean([held(number, 15, TRUTHS["the prior's middle"]) for number in range(40)], axis=0)
    assert (found > 0.85).all()


@pytest.mark.full
@pytest.mark.timeout(7_200)
@pytest.mark.parametrize("histories", [15, 60, 300])
def test_fixed_truths_and_wrong_priors_are_reported(histories):
    found = {
        name: coverage(1_000, partial(held, histories=histories, spreads=at)) for name, at in TRUTHS.items()
    }
    found |= {
        name: coverage(1_000, partial(held, histories=histories, factor=f)) for name, f in PRIORS.items()
    }
    print()
    for name, shares in found.items():
        told(name, histories, shares)
    assert min(share for shares in found.values() for share in shares.values()) > 0.7
    assert min(shares["B10"] for shares in found.values()) > 0.8
    assert found["the prior's middle"]["B10"] > 0.88
