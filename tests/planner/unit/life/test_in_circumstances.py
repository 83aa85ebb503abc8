"""Lives in circumstances: scales move by the multiplier with its uncertainty, known multipliers undo themselves, safety parts only shorten."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from planner import (
    ClockPrior,
    Costs,
    LifePrior,
    Spells,
    book_life,
    book_modifiers,
    book_prior,
    fit_life,
    known_life,
    load_catalogue,
)
from planner.errors import InputError
from planner.interval.tables import IntervalTable, interval_table
from planner.life.joined_rows import SharedEvents
from planner.life.modifiers.fitted import Modifier, fit_modified
from planner.life.modifiers.in_circumstances import Multiplier, book_multiplier, life_in
from planner.life.modifiers.usual_clocks import on_usual_clocks

HEAT = Modifier("heat", ("age",), 0.7, 0.25)
SHORT = Modifier("short", ("distance", "age"), 0.5, 0.3)


@pytest.fixture(scope="module")
def exhaust():
    return book_life(book_prior(load_catalogue()["exhaust"]), draws=4000)


def test_scales_move_by_the_middle_and_spread_by_the_uncertainty(exhaust):
    own = life_in(exhaust, [book_multiplier(one, 4000) for one in (HEAT, SHORT)])
    assert own.distance.scale == pytest.approx(0.5 * exhaust.distance.scale)
    assert own.age.scale == pytest.approx(0.7 * 0.5 * exhaust.age.scale)
    assert (own.distance.shape, own.age.shape) == (exhaust.distance.shape, exhaust.age.shape)
    moved = own.draws - exhaust.draws
    assert (moved[:, [0, 2]] == 0).all()
    assert moved.mean(axis=0)[[1, 3]] == pytest.approx(np.log([0.5, 0.35]), abs=1e-3)
    assert moved.std(axis=0)[[1, 3]] == pytest.approx([0.3, np.hypot(0.3, 0.25)], rel=0.03)
    spread = np.hypot(exhaust.draws.std(axis=0)[[1, 3]], [0.3, np.hypot(0.3, 0.25)])
    assert own.draws.std(axis=0)[[1, 3]] == pytest.approx(spread, rel=0.05), (
        "the law's doubt and the factor's add up"
    )
    assert np.sqrt(np.diag(own.covariance))[[1, 3]] == pytest.approx(spread, rel=0.05)
    again = life_in(exhaust, [book_multiplier(one, 4000) for one in (HEAT, SHORT)])
    assert (again.draws == own.draws).all()


def test_a_clock_that_is_not_there_leaves_the_life_as_it_is():
    life = known_life(distance=(2.0, 50_000))
    assert life_in(life, [book_multiplier(HEAT, 1)]) is life
    assert life_in(life, [book_multiplier(SHORT, 1)]).distance.scale == pytest.approx(25_000)


def test_of_a_safety_part_a_multiplier_only_shortens():
    damp = book_multiplier(Modifier("damp", ("age",), 0.8, 0.3), 400)
    assert (damp.log_draws > 0).any()
    assert damp.shortening.log_draws.max() == 0
    assert damp.shortening.factor == 0.8
    assert book_multiplier(Modifier("dry", ("age",), 1.5, 0.3), 400).shortening is None


def test_known_multipliers_are_undone_by_virtual_clocks():
    # A modifier known to within nothing must give the fit of the rows with their clocks divided by it.
    random = np.random.default_rng(3)
    rate = np.exp(random.normal(9, 0.5, 150))
    x = random.integers(0, 2, (150, 2)).astype(float)
    years = random.weibull(2, 150) * 9
    upper = np.where(random.random(150) < 0.4, years, np.inf)
    entry = 0.2 * years * (random.random(150) < 0.5)
    spells = Spells.on_both(
        years * rate, upper * rate, years, upper, entry * rate, entry, km_per_year=rate * random.uniform(0.5, 2, 150)
    )  # fmt: skip
    prior = LifePrior(distance=ClockPrior(40_000, 90_000), age=ClockPrior(4, 10))
    sure = [Modifier(one.name, one.clocks, one.factor, 1e-5) for one in (HEAT, SHORT)]
    by = np.stack([0.5 ** x[:, 1], 0.7 ** x[:, 0] * 0.5 ** x[:, 1]], axis=1)
    virtual = fit_life(on_usual_clocks(spells, by), prior)
    assert fit_modified(spells, x, sure, prior).life.parameters == pytest.approx(virtual.parameters, abs=1e-4)
    others = spells.take(np.isfinite(upper))
    other_by = by[np.isfinite(upper)]
    event = np.arange(len(others))
    raw = SharedEvents.of(others, event, np.ones(len(event)), np.full(len(event), 0.2))
    usual = SharedEvents.of(
        on_usual_clocks(others, other_by), event, 1 / other_by[:, 1], np.full(len(event), 0.2)
    )
    moved = life_in(virtual, [book_multiplier(one, 400) for one in (HEAT, SHORT)]).parameters
    at_both = (other_by == [0.5, 0.35]).all(axis=1)
    assert usual.guilt(virtual.parameters)[at_both] == pytest.approx(raw.guilt(moved)[at_both])
    with_them = fit_modified(spells, x, sure, prior, joined=[usual]).life
    same = fit_life(on_usual_clocks(spells, by), prior, joined=[usual])
    assert with_them.parameters == pytest.approx(same.parameters, abs=1e-4)
    assert with_them.evidence.histories == pytest.approx(same.evidence.histories)
    assert with_them.evidence.failures == pytest.approx(same.evidence.failures, abs=0.01)
    assert fit_life(spells, prior).parameters != pytest.approx(virtual.parameters, abs=0.05)
    assert on_usual_clocks(spells, np.ones((150, 2))) is spells


def test_an_interval_held_to_the_usual_one_is_longer_nowhere():
    life = book_life(book_prior(load_catalogue()["brake_discs"]), draws=200)
    damp = next(one for one in book_modifiers(load_catalogue()["brake_discs"]) if one.name == "damp_outdoors")
    own, rates = life_in(life, [book_multiplier(damp, 200)]), np.geomspace(20, 90_000, 101)
    longer = 0
    for costs in (Costs(50, 60), Costs(50, 75), Costs(50, 110), Costs(50, 900)):
        usual, free = interval_table(life, costs), interval_table(own, costs)
        held = IntervalTable.from_dict({**free.to_dict(), "no_longer_than": usual.to_dict()})
        assert (held.columns(rates).years <= usual.columns(rates).years).all()
        assert (held.columns(rates).years <= free.columns(rates).years).all()
        longer += int((free.columns(rates).years > usual.columns(rates).years).sum())
        assert held.at(9_000).years == min(usual.at(9_000).years, free.at(9_000).years)
        assert IntervalTable.from_dict(held.to_dict()).to_dict() == held.to_dict()
        assert "no_longer_than" not in free.to_dict()
    assert longer, "parts that do not last are run to failure where that is cheap: the case that is held"


@pytest.mark.parametrize(
    ("call", "field"),
    [
        (lambda: Multiplier("x", ("age",), 0.0, np.zeros(3)), "factor"),
        (lambda: Multiplier("x", ("age",), 0.5, np.zeros(0)), "log_draws"),
        (lambda: Multiplier("x", ("age",), 0.5, np.array([np.nan])), "log_draws"),
        (lambda: on_usual_clocks(Spells.on_age([1.0], [2.0]), [[0.0]]), "factors"),
        (lambda: on_usual_clocks(Spells.on_age([1.0], [2.0]), [[1.0, 1.0]]), "factors"),
    ],
)
def test_refusals_name_the_field(call, field):
    with pytest.raises(InputError) as refused:
        call()
    assert refused.value.field == field


def test_a_life_of_few_draws_gets_the_whole_spread_of_a_multiplier():
    heat = book_multiplier(Modifier("heat", ("age",), 0.55, 0.3), 400)
    known = known_life(age=(1.7, 21.0))
    many = replace(known, draws=np.repeat(known.draws, 400, axis=0))
    few, all_draws = (life_in(life, [heat]).draws[:, 1] for life in (known, many))
    assert len(few) == 400
    assert np.sort(few) == pytest.approx(np.sort(all_draws))
    assert few.mean() == pytest.approx(math.log(21.0) + math.log(0.55), abs=1e-9)
