"""How long a fit of many spells takes, beside lifelines and surpyval on the same rows in the same run; its memory.

The peers fit a Weibull life on one clock; ours fits two. 1,000,000 spells, 40 % with delayed entry.
"""

from __future__ import annotations

import time
import tracemalloc

import numpy as np
import pytest

from planner import Spells, fit_life
from planner.life.counts.binning import spell_counts

pytestmark = pytest.mark.bench
ROWS = 1_000_000
INF = np.inf


def spells_of(rows, seed):
    """Known lives (2.5 and 60,000 km; 3 and 12 years) on cars that change their yearly distance at entry."""
    random = np.random.default_rng(seed)
    before = np.exp(random.normal(np.log(5000), 0.6, rows))
    after = before * np.exp(random.normal(0, 0.3, rows))
    km_life = 60_000 * random.exponential(size=rows) ** (1 / 2.5)
    age_life = 12 * random.exponential(size=rows) ** (1 / 3.0)
    late = random.random(rows) < 0.4
    entry = np.where(late, random.uniform(0.1, 0.8, rows) * np.minimum(km_life / before, age_life), 0.0)
    fails = np.minimum(entry + (km_life - entry * before) / after, age_life)
    seen = entry + random.exponential(3.2, rows)
    end = np.minimum(fails, seen)
    km = entry * before + (end - entry) * after
    km_upper, upper = (np.where(fails <= seen, value, INF) for value in (km, end))
    return Spells.on_both(km, km_upper, end, upper, entry * before, entry, km_per_year=after)


def seconds(work, times=1):
    """Least processor seconds of some runs, and what the last gave back."""
    taken, result = INF, None
    for _ in range(times):
        start = time.process_time()  # of this process alone, so that a busy machine does not tilt the ratio
        result = work()
        taken = min(taken, time.process_time() - start)
    return taken, result


@pytest.fixture(scope="module")
def spells():
    return spells_of(ROWS, 1)


@pytest.fixture(scope="module")
def ours(spells):
    """Seconds and life; agreed with row-by-row in this very run."""
    taken, life = seconds(lambda: fit_life(spells), 3)
    row_taken, by_rows = seconds(lambda: fit_life(spells, binned=False, draws=1))
    apart = float(np.abs(life.parameters - by_rows.parameters).max())
    print(f"\nfit {taken:.3f} s (row by row {row_taken:.1f} s); largest difference in a log {apart:.1e}")
    assert apart < 1e-4
    return taken


def test_a_fortieth_of_lifelines_on_one_clock(spells, ours):
    from lifelines import WeibullFitter

    failed = spells.exact

    def peer():
        return WeibullFitter().fit(spells.km.lower, failed, entry=spells.km.entry)

    taken, _ = seconds(peer)
    print(f"lifelines, one clock: {taken:.2f} s = {taken / ours:.1f} times ours on two")
    assert ours <= taken / 40


def test_a_sixteenth_of_surpyval_on_one_clock(spells, ours):
    import surpyval

    censored = np.where(spells.exact, 0, 1)

    def peer():
        return surpyval.Weibull.fit(x=spells.km.lower, c=censored, tl=spells.km.entry)

    taken, _ = seconds(peer)
    print(f"surpyval, one clock: {taken:.2f} s = {taken / ours:.1f} times ours on two")
    assert ours <= taken / 16


def test_memory_beyond_the_inputs_is_at_most_once_the_inputs(spells):
    inputs = sum(side.nbytes for b in spells.bounds for side in (b.entry, b.lower, b.upper))
    tracemalloc.start()
    fit_life(spells)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    print(f"\npeak {peak / 1e6:.0f} MB beside inputs of {inputs / 1e6:.0f} MB = {peak / inputs:.2f}")
    assert peak <= inputs


def test_ten_times_the_rows_take_no_longer_once_counted(spells):
    few = spell_counts(spells)
    many = few
    for seed in range(2, 11):
        many = many + spell_counts(spells_of(ROWS, seed))
    assert many.histories == 10 * ROWS
    pairs = [(seconds(lambda: fit_life(few))[0], seconds(lambda: fit_life(many))[0]) for _ in range(7)]
    one, ten = (float(np.median(column)) for column in zip(*pairs, strict=True))
    print(f"\nafter counting: {one:.3f} s for 1,000,000, {ten:.3f} s for 10,000,000 = {ten / one:.2f}")
    assert ten <= 1.2 * one
