"""Kinds with groups, from truth drawn from the priors: are the groups' lives, an unseen group's and the spread covered as is said?"""

from __future__ import annotations

import numpy as np
import pytest

from planner import ClockPrior, LifePrior, Spells, fit_life, fit_pooled

INF = np.inf
PRIOR = LifePrior(age=ClockPrior(4, 9))
GROUPS = 6


def kind(random):
    """Spells with their groups, and the truth: (shape, ln scale by group with an unseen one last, spread)."""
    log_shape, log_scale = random.normal(PRIOR.mean, PRIOR.spread)
    spread = abs(0.4 * random.standard_normal())
    own = log_scale + spread * random.standard_normal(GROUPS + 1)
    group = np.repeat(np.arange(GROUPS), random.integers(3, 15, GROUPS))
    life = np.exp(own[group]) * random.weibull(np.exp(log_shape), len(group))
    entry = random.uniform(0, 3, len(group)) * (random.random(len(group)) < 0.4)
    seen = life > entry
    if not all((group[seen] == g).any() for g in range(GROUPS)):
        return kind(random)
    group, life, entry = group[seen], life[seen], entry[seen]
    stop = entry + random.uniform(2, 8, len(life))
    spells = Spells.on_age(np.minimum(life, stop), np.where(life <= stop, life, INF), entry)
    return spells, group, log_shape, own, spread


def covered(kinds, seed):
    """Shares of truths inside central 80 % intervals: ln scales of groups, of an unseen group, spread; and of groups fitted alone."""
    random = np.random.default_rng(seed)
    groups, unseen, spreads, gain = [], [], [], []
    for number in range(kinds):
        spells, group, _, own, spread = kind(random)
        found = fit_pooled(spells, group.tolist(), PRIOR, seed=number)
        for name, each in found.groups.items():
            groups.append(_inside(each.life.draws[:, 1], own[name]))
            alone = fit_life(spells.take(group == name), PRIOR, draws=1)
            gain.append((alone.parameters[1] - own[name]) ** 2 - (each.life.parameters[1] - own[name]) ** 2)
        unseen.append(_inside(found.unseen.draws[:, 1], own[-1]))
        spreads.append(found.spread[0].low <= spread <= found.spread[0].high)
    return np.mean(groups), np.mean(unseen), np.mean(spreads), np.mean(gain), np.std(gain) / len(gain) ** 0.5


def _inside(draws, truth):
    low, high = np.quantile(draws, [0.1, 0.9])
    return low <= truth <= high


def test_groups_cover_the_truth():
    groups, unseen, spread, gain, _ = covered(20, seed=1)
    assert 0.65 < groups < 0.93  # 120 groups, alike within a kind: three to four standard errors of 80 %
    assert 0.5 < unseen <= 1  # 20 kinds: three standard errors are 27 points
    assert 0.5 < spread <= 1
    assert gain > 0, "a group fitted alone is further from the truth"


@pytest.mark.full
def test_groups_cover_the_truth_in_many_kinds():
    groups, unseen, spread, gain, error = covered(500, seed=2)
    print(
        f"\n80 % intervals cover: groups {groups:.1%}, an unseen group {unseen:.1%}, the spread {spread:.1%}; squared error of ln scale "
        f"saved against each group alone {gain:.4f} (se {error:.4f})"
    )
    assert 0.77 < groups < 0.83
    assert 0.74 < unseen < 0.86
    assert 0.74 < spread < 0.86
    assert gain > 4 * error
