"""Modifiers: no setting gives the plain life; γ is found again; clocks that change in mid-life; derivatives; refusals."""

from __future__ import annotations

import numpy as np
import pytest

from planner import ClockPrior, Costs, LifePrior, Spells, best_interval, book_life, fit_life, load_catalogue
from planner.errors import InputError, PriorError, SpellError
from planner.life.modifiers.fitted import ModifiedFit, Modifier, Settings, book_modifiers, fit_modified
from planner.life.modifiers.usual_clocks import on_usual_clocks
from planner.life.modifiers.virtual_rows import changing_rows

INF = np.inf
PRIOR = LifePrior(distance=ClockPrior(40_000, 90_000), age=ClockPrior(4, 10))
HEAT = Modifier("heat", ("age",), 0.7, 0.25)
GRADE = Modifier("grade", ("distance", "age"), 0.6, 0.25)


def fleet(size, gamma, seed, *, halfway=False):
    """Parts on two clocks with two settings; with ``halfway`` the heat begins at three years. Spells and settings."""
    random = np.random.default_rng(seed)
    rate = np.exp(random.normal(np.log(7000), 0.6, size))
    x = random.integers(0, 2, (size, 2)).astype(float)
    km = 100_000 * np.exp(x[:, 1] * gamma[1]) * random.weibull(2.4, size)
    worn = 11 * np.exp(x[:, 1] * gamma[1]) * random.weibull(2.0, size)  # years under no heat
    if halfway:
        by_age = np.where(
            worn < 3, worn, 3 + (worn - 3) * np.exp(x[:, 0] * gamma[0])
        )  # before: no heat; after: x
    else:
        by_age = worn * np.exp(x[:, 0] * gamma[0])
    life = np.minimum(km / rate, by_age)
    entry = random.uniform(0, 4, size) * (random.random(size) < 0.4)
    seen = life > entry
    rate, x, life, entry = rate[seen], x[seen], life[seen], entry[seen]
    stop = entry + random.uniform(2, 10, len(life))
    end = np.minimum(life, stop)
    upper = np.where(life <= stop, end, INF)
    found = (random.random(len(end)) < 0.3) & (life <= stop)  # some are found at a yearly look
    low = np.where(found, entry + np.floor(end - entry), end)
    high = np.where(found, low + 1, upper)
    spells = Spells.on_both(low * rate, high * rate, low, high, entry * rate, entry, km_per_year=rate)
    if not halfway:
        return spells, x
    two = np.repeat(x, 2, axis=0)
    two[0::2, 0] = 0
    years = np.tile([0.0, 3.0], len(x))
    return spells, Settings.changing(np.repeat(np.arange(len(x)), 2), two, years * np.repeat(rate, 2), years)


def test_without_settings_it_is_the_plain_fit():
    spells, x = fleet(120, (-0.4, -0.5), seed=1)
    found = fit_modified(spells, np.zeros_like(x), [HEAT, GRADE], PRIOR)
    plain = fit_life(spells, PRIOR)
    assert found.life.parameters == pytest.approx(plain.parameters, abs=1e-6)
    assert found.life.covariance == pytest.approx(plain.covariance, rel=1e-5)
    assert found.life.log_likelihood == pytest.approx(plain.log_likelihood)
    assert found.gamma == pytest.approx(np.log([0.7, 0.6]))  # the trade's, nothing else being known
    assert [effect.prior_share for effect in found.effects] == pytest.approx([1, 1])
    assert "as the trade says" in found.effects[0].words
    assert found.life_at([0, 0]).parameters == pytest.approx(plain.parameters, abs=1e-6)


@pytest.mark.parametrize("halfway", [False, True])
def test_gamma_is_found_again(halfway):
    truth = np.array([-0.6, -0.2])  # ×0.55 and ×0.82, where the trade says ×0.7 and ×0.6
    spells, settings = fleet(1500, truth, seed=5, halfway=halfway)
    found = fit_modified(spells, settings, [HEAT, GRADE], PRIOR)
    theta = np.concatenate([found.life.parameters, found.gamma])
    wanted = np.concatenate([np.log([2.4, 100_000, 2.0, 11]), truth])
    error = np.sqrt(np.diag(found.covariance))
    assert (np.abs(theta - wanted) < 3.5 * error).all()
    assert error[-1] < 0.12
    assert (np.abs(found.gamma - np.log([0.7, 0.6])) > 1.5 * error[-2:]).any()
    for effect, gamma in zip(found.effects, truth, strict=True):
        assert effect.low < np.exp(gamma) * 1.1
        assert effect.high > np.exp(gamma) / 1.1
        assert "judged from the records" in effect.words
    plain = fit_life(spells, PRIOR)
    assert plain.age.scale < 0.92 * found.life.age.scale, (
        "without modifiers the hot cars shorten everybody's life"
    )


def test_stretches_in_one_setting_are_one_setting():
    spells, x = fleet(80, (-0.4, -0.5), seed=2)
    rate = spells.km.lower.sum() / spells.years.lower.sum()
    rows = np.repeat(np.arange(len(spells)), 3)
    years = np.tile([0.0, 1.0, 4.5], len(spells))
    cut = Settings.changing(rows, x[rows], years * rate, years)
    whole, pieces = (fit_modified(spells, s, [HEAT, GRADE], PRIOR) for s in (x, cut))
    assert pieces.gamma == pytest.approx(whole.gamma, abs=1e-8)
    bears = np.array([[0.0, 1.0], [1.0, 1.0]])
    rowwise = changing_rows(spells, cut.stretches(np.ones(len(spells), dtype=bool)), bears)
    shared = np.concatenate([whole.life.parameters, whole.gamma])
    assert rowwise.at(shared).value == pytest.approx(whole.life.log_likelihood, rel=1e-9)


def test_derivatives_are_those_of_the_value():
    spells, settings = fleet(60, (-0.4, -0.5), seed=3, halfway=True)
    rows = changing_rows(
        spells, settings.stretches(np.ones(len(spells), dtype=bool)), np.array([[0.0, 1.0], [1.0, 1.0]])
    )
    shared = np.array([0.8, 11.4, 0.6, 2.3, -0.3, -0.6])
    assert rows.at(shared).value == pytest.approx(rows.values(shared[None, :])[0], rel=1e-12)
    steps = 1e-5 * np.eye(6)
    slope = [(rows.at(shared + h).value - rows.at(shared - h).value) / 2e-5 for h in steps]
    curve = np.array([(rows.at(shared + h).gradient - rows.at(shared - h).gradient) / 2e-5 for h in steps])
    assert rows.at(shared).gradient == pytest.approx(slope, rel=1e-5, abs=1e-5)
    assert rows.at(shared).hessian == pytest.approx(curve, rel=1e-4, abs=1e-4)


def test_a_virtual_clock_by_hand():
    # Three years cool, two hot at γ = ln 0.5: the hot years count double. Exact failure on age, shape 2, scale 10:
    # V = 3 + 2·2 = 7, h = (2/10)·(7/10)·2, Λ = 0.49.
    spells = Spells.on_age([5.0], [5.0])
    settings = Settings.changing([0, 0], [[0.0], [1.0]], from_years=[0, 3])
    rows = changing_rows(spells, settings.stretches(np.array([True])), np.array([[1.0]]))
    value = rows.values(np.array([[np.log(2), np.log(10), np.log(0.5)]]))[0]
    assert value == pytest.approx(np.log(0.2 * 0.7 * 2) - 0.49)


def test_life_at_a_setting_serves_downstream():
    spells, x = fleet(200, (-0.5, -0.5), seed=7)
    found = fit_modified(spells, x, [HEAT, GRADE], PRIOR)
    cool, hot = found.life_at([0, 0]), found.life_at([1, 0])
    gamma = found.gamma[0]
    assert hot.age.scale == pytest.approx(cool.age.scale * np.exp(gamma))
    assert hot.distance.scale == cool.distance.scale
    assert hot.draws[:, 3] == pytest.approx(cool.draws[:, 3] + found.gamma_draws[:, 0])
    costs = Costs(planned=60, failure=400)
    intervals = [best_interval(life, costs, km_per_year=4000).years for life in (cool, hot)]
    assert intervals[1] < intervals[0]
    # Five years cool, then hot: as old under heat as one that spent five·exp(γ) years there.
    assert found.clock_under("age", [5.0], [[0, 0]], [1, 0]) == pytest.approx(5 * np.exp(gamma))
    assert found.clock_under("age", [5.0, 2.0], [[0, 0], [1, 0]], [1, 0]) == pytest.approx(
        5 * np.exp(gamma) + 2
    )
    assert found.clock_under("distance", [5e4], [[0, 0]], [1, 0]) == pytest.approx(5e4)


def test_the_catalogue_gives_priors():
    found = {m.name: m for m in book_modifiers(load_catalogue()["ht_leads"])}
    assert found["heat_soak"].factor == pytest.approx(0.48**0.5)
    assert found["heat_soak"].clocks == ("age",)
    assert book_modifiers(load_catalogue()["harness_degr"]) == ()


ONE = Spells.on_age([3.0, 4.0], [3.0, INF])
AGE = LifePrior(age=ClockPrior(3, 8))
HEAVY = Spells.on_age([3.0, 4.0], [3.0, INF], weight=1e300)
FIT = ModifiedFit(book_life(AGE, draws=2), (HEAT,), np.log([0.7]), np.eye(3), np.log([[0.7], [0.8]]))


@pytest.mark.parametrize(
    ("call", "error", "field"),
    [
        (lambda: fit_modified(None, [[0]], [HEAT], AGE), SpellError, "spells"),
        (lambda: fit_modified(ONE, [[0]], [HEAT], AGE), InputError, "settings"),
        (lambda: fit_modified(ONE, [[0, 1], [0, 0]], [HEAT], AGE), InputError, "settings"),
        (lambda: fit_modified(ONE, [[0], [np.nan]], [HEAT], AGE), InputError, "settings"),
        (lambda: fit_modified(ONE, [[0], [1]], [], AGE), PriorError, "modifiers"),
        (lambda: fit_modified(ONE, [[0], [1]], [GRADE], AGE), PriorError, "modifiers"),
        (lambda: fit_modified(ONE, [[0], [1]], [HEAT], PRIOR), PriorError, "prior"),
        (lambda: Modifier("x", (), 1, 1), PriorError, "clocks"),
        (lambda: Modifier("x", ("age",), 0, 1), PriorError, "factor"),
        (lambda: Modifier("x", ("age",), 1, -1), PriorError, "spread"),
        (lambda: Settings.changing([0, 2], [[0], [1]], from_years=[0, 0]), InputError, "row"),
        (lambda: Settings.changing([0, 0], [[0], [1]], from_years=[1, 2]), InputError, "from_years"),
        (lambda: Settings.changing([0, 0, 0], [[0]] * 3, from_years=[0, 2, 1]), InputError, "from_years"),
        (lambda: Settings.changing([0, 0], [[0], [1]]), InputError, "from_km, from_years"),
        (lambda: Settings.changing([0, 0], [[0]], from_years=[0, 1]), InputError, "x"),
        (lambda: fit_modified(ONE, [[0], [1]], [HEAT], AGE).life_at([0, 1]), InputError, "setting"),
        (
            lambda: fit_modified(ONE, [[0], [1]], [HEAT], AGE).clock_under("distance", [1], [[0]], [1]),
            InputError,
            "clock",
        ),
        (
            lambda: fit_modified(ONE, [[0], [1]], [HEAT], AGE).clock_under("age", [-1], [[0]], [1]),
            InputError,
            "spent",
        ),
        (lambda: Modifier("x", ("age",), "x", 1), PriorError, "factor"),
        (lambda: Modifier("x", ("age",), 1, None), PriorError, "spread"),
        (lambda: Modifier("x", ("age",), np.True_, 1), PriorError, "factor"),
        (lambda: Modifier("x", 5, 1, 1), PriorError, "clocks"),
        (lambda: Modifier("x", [["age"]], 1, 1), PriorError, "clocks"),
        (lambda: fit_modified(ONE, [[0], [1]], ["x"], AGE), PriorError, "modifiers"),
        (lambda: fit_modified(ONE, [[0], [1]], 5, AGE), PriorError, "modifiers"),
        (lambda: fit_modified(ONE, [[0], [1]], [HEAT], AGE, seed=-1), InputError, "seed"),
        (lambda: fit_modified(ONE, [[0], [1]], [HEAT], AGE, draws=0), InputError, "draws"),
        (lambda: fit_modified(ONE, [[0], [1]], [HEAT], AGE, draws=1.5), InputError, "draws"),
        (lambda: fit_modified(HEAVY, [[0], [1]], [HEAT], AGE), SpellError, "weight"),
        (
            lambda: fit_modified(ONE, np.ma.array([[0], [1]], mask=[[0], [1]]), [HEAT], AGE),
            InputError,
            "settings",
        ),
        (lambda: fit_modified(ONE, [[0], ["x"]], [HEAT], AGE), InputError, "settings"),
        (lambda: FIT.life_at("x"), InputError, "setting"),
        (lambda: FIT.life_at(np.ma.array([1.0], mask=[1])), InputError, "setting"),
        (lambda: FIT.clock_under("age", ["x"], [[0]], [1]), InputError, "spent"),
        (lambda: FIT.clock_under("age", 5.0, [[0]], [1]), InputError, "spent"),
        (lambda: FIT.clock_under("age", [1], [["x"]], [1]), InputError, "settings"),
        (lambda: FIT.clock_under("age", [1], [[0]], ["x"]), InputError, "now"),
        (lambda: on_usual_clocks(ONE, [["x"]] * 2), InputError, "factors"),
        (lambda: on_usual_clocks(ONE, np.ma.array([[1.0], [2.0]], mask=[[0], [1]])), InputError, "factors"),
        (lambda: on_usual_clocks("x", [[1.0]]), SpellError, "spells"),
        (
            lambda: Settings.changing(
                np.array([0, 0], dtype="timedelta64[D]"), [[0], [1]], from_years=[0, 1]
            ),
            InputError,
            "row",
        ),
    ],
)
def test_refusals_name_the_field(call, error, field):
    with pytest.raises(error) as refused:
        call()
    assert refused.value.field == field
