"""Groups of one kind fitted together: against a long-run sampler of the whole hierarchy, in its limits, and where it must refuse."""

from __future__ import annotations

import numpy as np
import pytest

from planner import ClockPrior, LifePrior, Spells, fit_life, fit_pooled
from planner.errors import InputError, PriorError, SpellError
from planner.life.counts.binning import spell_counts
from planner.life.groups import pooled_draws
from planner.life.groups.group_spread import GroupSpread
from planner.life.joined_rows import SharedEvents
from planner.life.sampling import ensemble
from planner.life.sampling.ensemble import walk

INF = np.inf
PRIOR = LifePrior(age=ClockPrior(4, 9))


def grouped(groups, size, spread, seed):
    """Parts of groups whose scales stand apart by ``spread``; half of them seen from a late entry: (entry, lower, upper, group)."""
    random = np.random.default_rng(seed)
    group = np.repeat(np.arange(groups), size)
    scale = 10 * np.exp(spread * random.standard_normal(groups))
    life = scale[group] * random.weibull(2.5, len(group))
    entry = random.uniform(0, 2, len(group)) * (random.random(len(group)) < 0.5)
    seen = life > entry
    group, life, entry = group[seen], life[seen], entry[seen]
    stop = entry + random.uniform(2, 9, len(life))
    return entry, np.minimum(life, stop), np.where(life <= stop, life, INF), group


def _spells(rows):
    entry, lower, upper, group = rows
    return Spells.on_age(lower, upper, entry), [int(g) for g in group]


def _whole_hierarchy(rows, groups, usual=0.4):
    """Draws of (ln shape, ln scale of the kind, ln scale of each group, ln spread): densities written out, ensemble of walkers."""
    entry, lower, upper, group = rows
    failed = np.isfinite(upper)

    def log_density(t):
        shape, own, spread = np.exp(t[:, :1]), t[:, 2:-1], np.exp(t[:, -1])
        y = shape * (np.log(lower) - own[:, group])
        before = np.where(entry > 0, np.exp(shape * (np.log(np.maximum(entry, 1e-9)) - own[:, group])), 0.0)
        value = (failed * (t[:, :1] + y - np.log(lower)) - np.exp(y) + before).sum(axis=1)
        value -= 0.5 * (((t[:, :2] - PRIOR.mean) / PRIOR.spread) ** 2).sum(axis=1)
        value -= 0.5 * (((own - t[:, 1:2]) / spread[:, None]) ** 2).sum(axis=1) + groups * t[:, -1]
        value += t[:, -1] - 0.5 * (spread / usual) ** 2
        inside = (spread > 0.01) & (spread < 2.0)
        return np.where(inside & np.isfinite(value), value, -np.inf)

    mode = np.concatenate([PRIOR.mean, np.full(groups, PRIOR.mean[1]), [np.log(0.3)]])
    begin = mode + 0.1 * np.random.default_rng(0).standard_normal((100, len(mode)))
    kept = []
    for seed in range(3):
        free = np.ones(len(mode), dtype=bool)
        chain = walk(log_density, begin, mode, free, np.random.default_rng(seed)).values
        begin = chain[-100:]
        kept.append(chain)
    return np.concatenate(kept[1:])


def test_equals_the_whole_hierarchy_by_a_long_run_sampler():
    # Eight groups of six parts, 20 failures in all: a fit at the joint peak would put ln shape 0.13 too high here.
    rows = grouped(8, 6, 0.4, seed=3)
    spells, labels = _spells(rows)
    found = fit_pooled(spells, labels, PRIOR, draws=2000)
    long_run = _whole_hierarchy(rows, 8)
    spread = found.spread[0]
    low, median, high = np.exp(np.quantile(long_run[:, -1], [0.1, 0.5, 0.9]))
    assert (spread.low, spread.median, spread.high) == pytest.approx((low, median, high), rel=0.12)
    for number, group in found.groups.items():
        own = group.life.draws
        assert own[:, 0].mean() == pytest.approx(long_run[:, 0].mean(), abs=0.04)
        assert own[:, 1].mean() == pytest.approx(long_run[:, 2 + number].mean(), abs=0.06)
        assert own[:, 1].std() == pytest.approx(long_run[:, 2 + number].std(), rel=0.12)
    offset = np.exp(long_run[:, -1]) * np.random.default_rng(0).standard_normal(len(long_run))
    assert found.unseen.draws[:, 1].std() == pytest.approx((long_run[:, 1] + offset).std(), rel=0.1)


def test_walkers_take_over_where_the_weights_are_not_to_be_trusted(monkeypatch):
    spells, labels = _spells(grouped(3, 10, 0.4, seed=1))
    weighed = fit_pooled(spells, labels, PRIOR, draws=1500)
    monkeypatch.setattr(pooled_draws, "TRUSTED_K", -9.0)
    monkeypatch.setattr(ensemble, "_WARM_UP", 100)
    monkeypatch.setattr(ensemble, "_KEPT", 150)
    walked = fit_pooled(spells, labels, PRIOR, draws=1500)
    assert "ensemble of walkers" in walked.unseen.diagnostics.sampler
    assert 20 < walked.unseen.diagnostics.effective_sample_size < 2500
    for number, group in walked.groups.items():
        ours = weighed.groups[number].life.draws
        assert group.life.draws.mean(axis=0) == pytest.approx(ours.mean(axis=0), abs=0.15)
        assert group.life.draws.std(axis=0) == pytest.approx(ours.std(axis=0), rel=0.3)
        assert group.own_share + group.borrowed_share + group.life.evidence.prior_share == pytest.approx(1)
        assert group.life.evidence.prior_share > 0.1


def test_a_spread_held_at_nothing_gives_the_life_of_all_rows():
    spells, labels = _spells(grouped(4, 10, 0.3, seed=5))
    found = fit_pooled(spells, labels, PRIOR, usual_spread=1e-3, draws=2000)
    plain = fit_life(spells, PRIOR, draws=2000)
    for group in found.groups.values():
        assert group.life.draws.mean(axis=0) == pytest.approx(plain.draws.mean(axis=0), abs=0.03)
        assert group.life.draws.std(axis=0) == pytest.approx(plain.draws.std(axis=0), rel=0.1)


def test_one_group_learns_nothing_of_the_spread_and_says_so():
    spells, labels = _spells(grouped(1, 10, 0.3, seed=4))
    found = fit_pooled(spells, labels, PRIOR)
    assert found.spread[0].rests_on_prior
    assert found.spread[0].median == pytest.approx(
        0.27, abs=0.06
    )  # of the half-normal law of 0.4: 0.6745·0.4
    assert "what is usual, as 1 group cannot tell" in found.spread[0].words
    assert found.groups[0].borrowed_share == pytest.approx(0, abs=0.02)
    assert found.groups[0].borrowed_histories == 0


def test_many_groups_tell_whether_they_differ():
    alike = fit_pooled(*_spells(grouped(15, 20, 0.0, seed=6)), PRIOR).spread[0]
    apart = fit_pooled(*_spells(grouped(15, 20, 0.6, seed=6)), PRIOR).spread[0]
    assert alike.high < 0.25
    truth = 0.6 * np.random.default_rng(6).standard_normal(15).std()  # of the very groups drawn
    assert apart.low < truth < apart.high
    assert apart.low > alike.high
    assert not alike.rests_on_prior
    assert not apart.rests_on_prior
    assert "judged from 15 groups" in apart.words


def test_a_group_lies_between_its_own_rows_and_the_others():
    rows = grouped(6, 12, 0.5, seed=8)
    spells, labels = _spells(rows)
    found = fit_pooled(spells, labels, PRIOR)
    by_itself = {g: fit_life(spells.take(rows[3] == g), PRIOR).age.scale for g in found.groups}
    longest = max(by_itself, key=by_itself.get)
    assert found.unseen.age.scale < found.groups[longest].life.age.scale < by_itself[longest]
    for group in found.groups.values():
        shares = group.own_share, group.borrowed_share, group.life.evidence.prior_share
        assert sum(shares) == pytest.approx(1)
        assert all(0 <= share <= 1 for share in shares)
    one = found.groups[0]
    assert one.life.evidence.histories + one.borrowed_histories == len(spells)
    assert one.life.evidence.failures + one.borrowed_failures == np.isfinite(rows[2]).sum()
    assert f"from {one.life.evidence.histories:.0f} of its own histories" in one.words


def test_rows_that_count_twice_would_make_it_too_sure():
    # The wrong way: everybody's posterior, own rows in it, as the prior of a group.
    rows = grouped(3, 30, 0.3, seed=9)
    spells, labels = _spells(rows)
    honest = fit_pooled(spells, labels, PRIOR).groups[0].life
    everybody = fit_life(spells, PRIOR)
    law = everybody.age
    quantiles = [law.scale * (-np.log(1 - p)) ** (1 / law.shape) for p in (0.1, 0.5)]
    error = np.sqrt(np.diag(everybody.covariance))
    doubled = LifePrior(age=ClockPrior(*quantiles, error[1], error[0]))
    twice = fit_life(spells.take(rows[3] == 0), doubled)
    assert twice.draws[:, 1].std() < 0.8 * honest.draws[:, 1].std()


def test_an_unseen_group_is_less_sure_than_one_seen():
    found = fit_pooled(*_spells(grouped(6, 15, 0.4, seed=10)), PRIOR)
    assert found.life_of("never seen") is found.unseen
    assert found.life_of(0) is found.groups[0].life
    assert all(found.unseen.draws[:, 1].std() > g.life.draws[:, 1].std() for g in found.groups.values())


def test_a_cohort_of_another_material_neither_borrows_nor_lends():
    # Harnesses of degradable insulation fail together at 7 to 12 years (trade notes): a law of their own, with a prior of its own.
    ordinary, labels = _spells(grouped(3, 12, 0.3, seed=11))
    random = np.random.default_rng(0)
    life = 12 * random.weibull(6, 60)
    crumbling = Spells.on_age(np.minimum(life, 12), np.where(life < 12, life, INF))
    cohort = LifePrior(age=ClockPrior(7, 12, 0.3, 0.35))
    groups = [*labels, *["1991-96"] * 60]
    both = fit_pooled(Spells.concat([ordinary, crumbling]), groups, PRIOR, apart={"1991-96": cohort})
    alone = fit_pooled(ordinary, labels, PRIOR)
    for label, group in alone.groups.items():
        assert np.array_equal(group.life.draws, both.groups[label].life.draws)
    own = both.groups["1991-96"]
    assert own.life.parameters == pytest.approx(fit_life(crumbling, cohort).parameters)
    assert (own.borrowed_share, own.borrowed_histories) == (0, 0)
    assert own.life.age.shape > 1.5 * both.unseen.age.shape
    pooled = fit_pooled(Spells.concat([ordinary, crumbling]), groups, PRIOR)
    assert pooled.unseen.age.shape > 1.1 * alone.unseen.age.shape, (
        "as a mere group it bends the shape of all others"
    )


def test_rows_by_group_counts_of_rows_and_two_clocks():
    entry, lower, upper, group = grouped(2, 60, 0.3, seed=12)
    both = Spells.on_both(lower * 9000, upper * 9000, lower, upper, entry * 9000, entry)
    prior = LifePrior(distance=ClockPrior(60_000, 150_000), age=ClockPrior(4, 9))
    by_group = {g: both.take(group == g) for g in range(2)}
    rows = fit_pooled(both, list(group), prior, seed=1)
    counted = fit_pooled({g: spell_counts(own) for g, own in by_group.items()}, None, prior, seed=1)
    for number in range(2):
        ours = counted.groups[number].life
        assert ours.parameters == pytest.approx(rows.groups[number].life.parameters, abs=0.03)
        assert ours.clocks == ("distance", "age")
    assert [s.clock for s in rows.spread] == ["distance", "age"]


def test_joined_rows_of_a_group_count_for_it():
    spells, labels = _spells(grouped(3, 8, 0.3, seed=13))
    shared = SharedEvents.of(
        Spells.on_age([2.0, 2.5, 1.8], [2.0, 2.5, 1.8]), [0, 1, 2], [1.0, 1.0, 1.0], [0.001] * 3
    )
    plain, joined = (fit_pooled(spells, labels, PRIOR, joined=extra) for extra in ({}, {1: [shared]}))
    assert joined.groups[1].life.age.scale < plain.groups[1].life.age.scale
    assert joined.groups[1].life.evidence.histories == plain.groups[1].life.evidence.histories + 3
    assert joined.groups[0].borrowed_histories == plain.groups[0].borrowed_histories + 3


def test_groups_too_few_or_too_silent_are_called_what_is_usual():
    assert GroupSpread.of("age", np.array([0.05, 0.27, 0.65]), 12).rests_on_prior
    assert not GroupSpread.of("age", np.array([0.3, 0.6, 0.95]), 3).rests_on_prior
    assert GroupSpread.of("age", np.array([0.3, 0.6, 0.95]), 2).rests_on_prior


def _call(**changed):
    spells = Spells.on_age([3.0, 4.0], [3.0, INF])
    given = {"spells": spells, "groups": ["a", "b"], "prior": PRIOR, **changed}
    return lambda: fit_pooled(given.pop("spells"), given.pop("groups"), given.pop("prior"), **given)


@pytest.mark.parametrize(
    ("call", "error", "field"),
    [
        (_call(groups=["a"]), SpellError, "groups"),
        (_call(groups=None), SpellError, "groups"),
        (_call(spells={}, groups=None), SpellError, "spells"),
        (_call(spells={"a": Spells.on_age([3.0], [3.0])}), SpellError, "groups"),
        (_call(prior=None), PriorError, "prior"),
        (_call(prior=LifePrior(distance=ClockPrior(1, 2))), PriorError, "prior"),
        (_call(usual_spread=0), InputError, "usual_spread"),
        (_call(apart={"a": PRIOR, "b": PRIOR}), SpellError, "apart"),
        (_call(apart={"zz": PRIOR}), InputError, "apart"),
        (_call(joined={"zz": []}), InputError, "joined"),
        (_call(draws=0), InputError, "draws"),
        (_call(seed=-1), InputError, "seed"),
        (_call(usual_spread="1"), InputError, "usual_spread"),
        (_call(spells={"a": "rows"}, groups=None), InputError, "spells"),
        (_call(groups=[["a"], "b"]), SpellError, "groups"),
        (_call(groups=[np.nan, "b"]), SpellError, "groups"),
        (_call(groups=[None, "b"]), SpellError, "groups"),
        (_call(groups=np.ma.array([1, 2], mask=[0, 1])), SpellError, "groups"),
        (_call(groups="ab"), SpellError, "groups"),
        (_call(groups=5), SpellError, "groups"),
        (_call(groups=np.array(5)), SpellError, "groups"),
        (_call(spells="rows", groups=None), SpellError, "spells"),
        (_call(spells=Spells.on_age([3.0, 4.0], [3.0, INF], weight=1e300)), SpellError, "weight"),
    ],
)
def test_refusals_name_the_field(call, error, field):
    with pytest.raises(error) as refused:
        call()
    assert refused.value.field == field
