"""Bad new parts by grade: closed forms at the ends, brute force in between, simulated truth, refusals."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import beta, norm

from planner import ClockPrior, LifePrior, Spells, faults_by_grade, fit_pooled, known_life, load_catalogue
from planner.errors import InputError, PriorError, SpellError
from planner.life.new_parts.by_grade import SHIFT_SPREAD, book_fault

INF = np.inf
SOUND = known_life(distance=(30.0, 50_000))  # wear that cannot have begun within the span


def parts(**counts):
    """Parts of each grade: (bad within 2,000 km, good at 5,000 km)."""
    lower, upper, grades = [], [], []
    for grade, (bad, good) in counts.items():
        lower += [900.0] * bad + [5000.0] * good
        upper += [900.0] * bad + [INF] * good
        grades += [grade] * (bad + good)
    return Spells.on_distance(lower, upper), grades


def test_a_shared_law_by_brute_force():
    # Draws from the priors, weighed by the binomial likelihood: shift normal, ln worth normal(ln 50, 1), grades Beta.
    counts = {"maker": (1, 80), "pattern": (9, 60), "rebuilt": (0, 15)}
    books = {"maker": 0.02, "pattern": 0.045, "rebuilt": 0.02}
    random = np.random.default_rng(0)
    size = 400_000
    shift, worth = SHIFT_SPREAD * random.standard_normal(size), 50 * np.exp(random.standard_normal(size))
    share, weight = {}, np.ones(size)
    for grade, (bad, good) in counts.items():
        middle = 1 / (1 + np.exp(-(np.log(books[grade] / (1 - books[grade])) + shift)))
        share[grade] = random.beta(middle * worth, (1 - middle) * worth)
        weight *= share[grade] ** bad * (1 - share[grade]) ** good
    found = faults_by_grade(*parts(**counts), SOUND, span=2000, expected=books)
    for grade, own in found.grades.items():
        order = np.argsort(share[grade])
        below = np.cumsum(weight[order]) / weight.sum()
        low, high = np.interp([0.1, 0.9], below, share[grade][order])
        assert own.mean == pytest.approx(weight @ share[grade] / weight.sum(), rel=0.03)
        assert (own.low, own.high) == pytest.approx((low, high), rel=0.06, abs=5e-4)
        assert (own.parts, own.early) == (sum(counts[grade]), counts[grade][0])
    order = np.argsort(shift)
    middle = np.interp(0.5, np.cumsum(weight[order]) / weight.sum(), shift[order])
    assert np.log(found.shift[1]) == pytest.approx(middle, abs=0.03)
    assert "judged from 3 grades" in found.words


def test_a_law_worth_endless_parts_leaves_the_book_times_a_shift():
    found = faults_by_grade(*parts(a=(4, 96), b=(0, 100)), SOUND, span=2000, expected=0.02, worth=1e7)
    assert found.grades["a"].mean == pytest.approx(found.grades["b"].mean, rel=1e-3)
    shares = 1 / (1 + np.exp(-np.linspace(-9, 0, 4000)))
    mass = (
        norm.pdf(np.log(shares / (1 - shares)), np.log(0.02 / 0.98), SHIFT_SPREAD)
        * shares**4
        * (1 - shares) ** 196
    )
    assert found.grades["a"].mean == pytest.approx(shares @ mass / mass.sum(), rel=0.01)


def test_a_grade_with_many_parts_goes_its_own_way():
    found = faults_by_grade(*parts(good=(8, 1992), cheap=(120, 1880), few=(1, 9)), SOUND, span=2000)
    assert found.grades["good"].mean == pytest.approx(0.004, rel=0.25)
    assert found.grades["cheap"].mean == pytest.approx(0.06, rel=0.1)
    assert found.grades["few"].mean < 0.06, "one bad of ten is not a tenth"
    assert found.worth[1] < 50, "grades so far apart share little"
    assert found.unseen.low < found.unseen.mean < found.unseen.high
    assert found.unseen.high - found.unseen.low > found.grades["cheap"].high - found.grades["cheap"].low


def test_one_grade_is_the_kinds_and_says_what_it_cannot_tell():
    found = faults_by_grade(*parts(only=(3, 57)), SOUND, span=2000)
    fixed = beta(0.02 * 50 + 3, 0.98 * 50 + 57)  # the law held at 50 parts, shift 0
    assert found.grades["only"].mean == pytest.approx(fixed.mean(), rel=0.2)
    assert "1 grade cannot tell" in found.words


def test_simulated_grades_amid_wear():
    random = np.random.default_rng(3)
    truth = {"maker": 0.01, "pattern": 0.08}
    grades = np.repeat(list(truth), 2500)
    bad = random.random(5000) < np.array([truth[g] for g in grades])
    end = np.where(bad, 2000 * random.random(5000), 8000 * random.weibull(1.5, 5000))
    stop = random.uniform(500, 6000, 5000)
    spells = Spells.on_distance(np.minimum(end, stop), np.where(end <= stop, end, INF))
    life = known_life(distance=(1.5, 8000))
    found = faults_by_grade(spells, list(grades), dict.fromkeys(truth, life), span=2000)
    for grade, share in truth.items():
        assert found.grades[grade].low * 0.7 < share < found.grades[grade].high * 1.3
    assert found.grades["pattern"].low > found.grades["maker"].high


def test_grades_bought_used_have_the_kinds_share():
    spells = Spells.on_distance([900.0, 5000, 9000], [900.0, INF, INF], [0.0, 0.0, 3000.0])
    found = faults_by_grade(spells, ["new", "new", "used"], SOUND, span=2000)
    assert found.grades["used"].parts == 0
    assert found.grades["used"].mean == pytest.approx(found.unseen.mean)


@pytest.mark.parametrize("book", [0.0005, 0.005, 0.03])
def test_parts_that_say_nothing_leave_the_book(book):
    # A part seen good the moment it was fitted: the mean is that of the book's share over the shift's prior, by quadrature,
    # whatever the worth; at a worth of some few parts most of its law lies below one in a million.
    found = faults_by_grade(Spells.on_distance([1e-6], [INF]), ["a"], SOUND, span=2000, expected=book)
    shift = np.linspace(-3, 3, 25)
    weight = np.exp(-0.5 * shift**2) / np.exp(-0.5 * shift**2).sum()
    odds = book / (1 - book) * np.exp(SHIFT_SPREAD * shift)
    assert found.grades["a"].mean == pytest.approx(weight @ (odds / (1 + odds)), rel=1e-3)
    again = faults_by_grade(
        Spells.on_distance([1e-6], [INF]), ["a"], SOUND, span=2000, expected={"a": np.float32(book)}
    )
    assert again.grades["a"].mean == pytest.approx(found.grades["a"].mean, rel=1e-6)


def test_the_books_shares():
    catalogue = load_catalogue()
    assert book_fault(catalogue["condenser"]) == catalogue["condenser"].new_part_fault
    assert book_fault(catalogue["condenser"], pattern=True) == pytest.approx(0.002**0.5)  # 2 to 10 %
    assert book_fault(catalogue["battery"], pattern=True) == catalogue["battery"].new_part_fault


def _call(**changed):
    spells, grades = parts(a=(1, 5), b=(0, 5))
    given = {"spells": spells, "grades": grades, "life": SOUND, "span": 2000, **changed}
    return lambda: faults_by_grade(given.pop("spells"), given.pop("grades"), given.pop("life"), **given)


@pytest.mark.parametrize(
    ("call", "error", "field"),
    [
        (_call(spells=None), SpellError, "spells"),
        (_call(grades=["a"]), SpellError, "grades"),
        (_call(span=0), InputError, "span"),
        (_call(worth=0), PriorError, "worth"),
        (_call(worth="50"), PriorError, "worth"),
        (_call(unseen=2), PriorError, "unseen"),
        (_call(unseen=0), PriorError, "unseen"),
        (_call(expected="0.02"), PriorError, "expected"),
        (_call(grades=5), SpellError, "grades"),
        (_call(expected=1.0), PriorError, "expected"),
        (_call(expected={"a": 0.02}), PriorError, "expected"),
        (_call(life={"a": SOUND}), InputError, "life"),
        (_call(life=known_life(age=(1, 2))), InputError, "life"),
        (_call(spells=Spells.on_distance([3000.0], [INF], [1000.0]), grades=["a"]), SpellError, "spells"),
        (_call(grades=[["a"]] * 11), SpellError, "grades"),
        (_call(grades=[np.nan, *"abababcbab"]), SpellError, "grades"),
        (_call(grades=np.ma.array([1] * 11, mask=[1] + [0] * 10)), SpellError, "grades"),
        (_call(grades="abababababa"), SpellError, "grades"),
    ],
)
def test_refusals_name_the_field(call, error, field):
    with pytest.raises(error) as refused:
        call()
    assert refused.value.field == field


def test_grades_may_be_a_column_of_a_table():
    spells, grades = parts(a=(1, 5), b=(0, 5))
    column = faults_by_grade(spells, pd.Series(grades, index=range(5, 16)), SOUND, span=2000)
    assert column.grades == faults_by_grade(spells, grades, SOUND, span=2000).grades


def test_groups_may_be_a_column_of_a_table_too():
    spells, prior = Spells.on_age([3.0, 4.0, 6.0], [3.0, INF, 6.0]), LifePrior(age=ClockPrior(4, 9))
    column = fit_pooled(spells, pd.Series(["a", "b", "a"], index=[7, 8, 9]), prior, draws=20)
    plain = fit_pooled(spells, ["a", "b", "a"], prior, draws=20)
    assert column.life_of("a").parameters.tolist() == plain.life_of("a").parameters.tolist()
