"""Counts in cells give the fit that the rows give, to 1e-4 in every log of a parameter; draws follow."""

from __future__ import annotations

import numpy as np
import pytest

from planner import ClockPrior, LifePrior, Spells, fit_life
from planner.errors import ClockNotIdentified, InputError, TooFewFailures
from planner.life.counts.binning import BinnedSpells, spell_counts
from planner.life.counts.cells import Cells, gather
from planner.life.counts.sketch import Sketched, settle
from planner.life.fit import _with_prior
from planner.life.problem import pose
from planner.life.terms import terms_of

INF = np.inf
PRIOR = LifePrior(distance=ClockPrior(20_000, 50_000), age=ClockPrior(5, 10))
AGREED = 1e-4


def two_clock_spells(rows, shapes=(2.5, 3.0), looked=0.0, stood=0.0, seed=1, scale=60_000):
    """Parts from known lives, 40 % with delayed entry; a share of the failures seen only between two looks."""
    random = np.random.default_rng(seed)
    before = np.exp(random.normal(np.log(5000), 0.6, rows))
    after = before * np.exp(random.normal(0, 0.3, rows))
    km_life = scale * random.exponential(size=rows) ** (1 / shapes[0])
    age_life = 12 * random.exponential(size=rows) ** (1 / shapes[1])
    late = random.random(rows) < 0.4
    entry = np.where(late, random.uniform(0.1, 0.8, rows) * np.minimum(km_life / before, age_life), 0.0)
    fails = np.minimum(entry + (km_life - entry * before) / after, age_life)
    seen = entry + random.exponential(3.2, rows)
    failed = fails <= seen
    end = np.minimum(fails, seen)
    between = failed & (random.random(rows) < looked)
    low = np.where(between, np.maximum(entry, end * (1 - 0.5 * random.random(rows) ** 2)), end)
    high = np.where(between, end + 0.3 * random.uniform(0.001, 1, rows), np.where(failed, end, INF))
    km_low, km_high = (entry * before + (t - entry) * after for t in (low, high))
    km_high = np.where(between & (random.random(rows) < stood), km_low, km_high)
    return Spells.on_both(km_low, km_high, low, high, entry * before, entry, km_per_year=after)


TWO_CLOCKS = {
    "exact": two_clock_spells(1_500),
    "flat": two_clock_spells(1_500, (1.2, 1.5)),
    "steep on one clock": two_clock_spells(1_500, (2.0, 8.0)),
    "half between looks": two_clock_spells(1_500, looked=0.5, seed=2),
    "all between looks, some while standing": two_clock_spells(1_500, (4.0, 5.0), looked=1, stood=0.2),
}
MANY_WEAK = two_clock_spells(8_000, (1.5, 3.0), looked=0.3, seed=5, scale=900_000)
MANY = {
    "exact": (8_000, (2.5, 3.0), 0.0, 0.0, 1),
    "flat": (8_000, (1.2, 1.5), 0.0, 0.0, 1),
    "steep on one clock": (30_000, (2.0, 8.0), 0.0, 0.0, 1),
    "half between looks": (8_000, (2.5, 3.0), 0.5, 0.0, 2),
    "all between looks, some while standing": (20_000, (4.0, 5.0), 1.0, 0.2, 1),
}


@pytest.mark.full
@pytest.mark.parametrize("name", MANY)
@pytest.mark.parametrize("prior", [PRIOR, None], ids=["prior", "none"])
def test_many_spells_on_two_clocks_agree_with_row_by_row(name, prior):
    agree_with_row_by_row(two_clock_spells(*MANY[name]), prior)


@pytest.mark.parametrize("spells", TWO_CLOCKS.values(), ids=TWO_CLOCKS)
@pytest.mark.parametrize("prior", [PRIOR, None], ids=["prior", "none"])
def test_two_clocks_agree_with_row_by_row(spells, prior):
    agree_with_row_by_row(spells, prior)


def agree_with_row_by_row(spells, prior):
    """Parameters, covariance and evidence of both ways to fit."""
    rows, cells = (fit_life(spells, prior, binned=binned, draws=20) for binned in (False, True))
    assert np.abs(rows.parameters - cells.parameters).max() < AGREED
    assert cells.covariance == pytest.approx(rows.covariance, rel=2e-3, abs=1e-9)
    assert (cells.evidence.histories, cells.evidence.failures) == pytest.approx(
        (rows.evidence.histories, rows.evidence.failures)
    )
    assert cells.log_likelihood == pytest.approx(rows.log_likelihood, rel=1e-6, abs=0.5)


@pytest.mark.parametrize("clock", ["distance", "age"])
@pytest.mark.parametrize("name", ["exact", "half between looks"])
def test_one_clock_agrees_with_row_by_row(clock, name):
    spells = TWO_CLOCKS[name].only(clock)
    for more in ({}, {"fixed_shape": 2.0}, {"prior": LifePrior(**{clock: getattr(PRIOR, clock)})}):
        rows, cells = (fit_life(spells, binned=binned, draws=20, **more) for binned in (False, True))
        assert np.abs(rows.parameters - cells.parameters).max() < AGREED


def test_weights_count_as_repeated_rows_do():
    spells = two_clock_spells(1_000)
    random = np.random.default_rng(4)
    times = random.integers(1, 5, 1_000)
    weighted = Spells(spells.km, spells.years, times.astype(float), spells.km_per_year)
    repeated = spells.take(np.repeat(np.arange(1_000), times))
    one, other = (fit_life(s, PRIOR, binned=True, draws=5) for s in (weighted, repeated))
    assert one.parameters == pytest.approx(other.parameters, abs=1e-8)


@pytest.mark.parametrize("name", ["exact", "half between looks", "all between looks, some while standing"])
def test_the_density_that_draws_come_from_is_that_of_the_rows(name):
    spells = TWO_CLOCKS[name]
    life = fit_life(spells, PRIOR, binned=False)
    counts = spell_counts(spells)
    fine, sketch = (pose(terms, PRIOR, None) for terms in (counts.terms(), counts.few_terms()))
    problem, _ = settle(fine, sketch, _with_prior)
    by_rows = pose(terms_of(spells), PRIOR, None)
    one, other = (p.log_density(life.draws - p.terms.shift) for p in (by_rows, problem))
    assert isinstance(problem, Sketched)
    assert np.std(one - other) < 0.02


def test_draws_on_cells_have_the_moments_of_draws_on_rows():
    spells = TWO_CLOCKS["exact"]
    rows, cells = (fit_life(spells, PRIOR, binned=binned, draws=400) for binned in (False, True))
    spread = np.sqrt(np.diag(rows.covariance))
    error = spread * np.sqrt(2 / 400)  # of the difference of two means of 400 draws
    assert (np.abs(rows.draws.mean(axis=0) - cells.draws.mean(axis=0)) < 3 * error).all()
    assert cells.draws.std(axis=0) == pytest.approx(rows.draws.std(axis=0), rel=0.1)
    assert cells.diagnostics.pareto_k < 0.7


def test_many_rows_are_counted_without_being_asked_and_few_are_not():
    many, few = two_clock_spells(5_001), two_clock_spells(5_000)
    assert len(fit_life(many, PRIOR, draws=5).terms.points[0].weight) < 5_001
    assert len(fit_life(few, PRIOR, draws=5).terms.points[0].weight) >= 5_000


def test_counts_made_by_a_database_give_the_same_fit():
    # Sums by cell of 1/64, as a GROUP BY gives them: weight and mean only.
    spells = two_clock_spells(20_000)
    terms = terms_of(spells)

    def grouped(weight, *logs):
        where = np.stack(logs, axis=1)
        _, cell = np.unique(np.floor(where * 64), axis=0, return_inverse=True)
        total = np.bincount(cell.ravel(), weight)
        mean = np.stack([np.bincount(cell.ravel(), weight * w) / total for w in where.T], axis=1)
        size = len(logs)
        return Cells(total, mean, np.zeros((len(total), size, size)))

    exact = spells.exact
    both = (spells.km, spells.years)
    entered = [b.entry > 0 for b in both]
    counts = BinnedSpells(
        spells.clocks,
        tuple(grouped(spells.weight, np.log(b.lower)) for b in both),
        tuple(grouped(spells.weight[e], np.log(b.entry[e])) for b, e in zip(both, entered, strict=True)),
        grouped(
            spells.weight[exact], *(np.log(b.upper[exact]) for b in both), np.log(spells.km_per_year[exact])
        ),
        Cells.none(4),
        float(spells.weight.sum()),
    )
    life = fit_life(counts, PRIOR, draws=5)
    assert np.abs(life.parameters - fit_life(spells, PRIOR, binned=False, draws=5).parameters).max() < AGREED
    assert life.evidence.failures == pytest.approx(terms.failures)


def test_counts_of_two_halves_add_up():
    spells = two_clock_spells(6_000, looked=0.5)
    half = np.arange(6_000) < 2_500
    added = spell_counts(spells.take(half)) + spell_counts(spells.take(~half))
    one, other = (fit_life(c, PRIOR, draws=5) for c in (added, spell_counts(spells)))
    assert one.parameters == pytest.approx(other.parameters, abs=1e-7)


def test_cells_keep_weight_mean_and_covariance():
    random = np.random.default_rng(5)
    where = random.normal(size=(5_000, 3))
    where[::7, 1] = -INF
    weight = random.uniform(0.1, 2, 5_000)
    cells = gather(weight, where, 0.5)
    points, share = cells.coarser(1.0).points()
    finite, own = np.isfinite(where[:, 1]), np.isfinite(points[:, 1])
    assert share.sum() == pytest.approx(weight.sum())
    assert share[own].sum() == pytest.approx(weight[finite].sum())
    for rows, few in ((where[finite], points[own]), (where[~finite][:, [0, 2]], points[~own][:, [0, 2]])):
        w, v = (weight[finite], share[own]) if rows.shape[1] == 3 else (weight[~finite], share[~own])
        assert (few.T * v) @ few == pytest.approx((rows.T * w) @ rows)
        assert v @ few == pytest.approx(w @ rows, abs=1e-9)


def test_refusals_are_those_of_the_rows():
    good = Spells.on_both([20_000.0] * 9, [INF] * 9, [4.0] * 9, [INF] * 9)
    with pytest.raises(TooFewFailures):
        fit_life(good, binned=True)
    times = np.random.default_rng(6).weibull(2.0, 500)
    straight = Spells.on_both(5_000 * times, 5_000 * times, times, times)
    with pytest.raises(ClockNotIdentified):
        fit_life(straight, binned=True)
    with pytest.raises(TooFewFailures):
        fit_life(Spells.on_age([3.0] * 6_000, [3.0] * 6_000))
    counts = spell_counts(good)
    with pytest.raises(InputError, match="binned"):
        fit_life(counts, PRIOR, binned=False)
    with pytest.raises(InputError, match="exact"):
        BinnedSpells(counts.clocks, counts.ends, counts.entries, Cells.none(2), counts.intervals, 9.0)


def test_a_clock_that_hardly_wears_agrees_to_a_thousandth_of_its_error():
    prior = LifePrior(distance=ClockPrior(100_000, 400_000), age=ClockPrior(6, 18))
    rows, cells = (fit_life(MANY_WEAK, prior, binned=binned, draws=5) for binned in (False, True))
    error = np.sqrt(np.diag(rows.covariance))
    assert error[1] > 0.1, "the distance clock is to be known badly"
    assert (np.abs(rows.parameters - cells.parameters) < np.maximum(AGREED, error / 1000)).all()
