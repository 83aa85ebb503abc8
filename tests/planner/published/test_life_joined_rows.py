"""Unknown fitting days and shared complaints in a fit, against quadrature, closed forms and simulated truth."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from planner import ClockPrior, LifePrior, Spells, fit_life
from planner.errors import InputError, PriorError, SpellError
from planner.history.undated import UndatedSpells
from planner.life.joined_rows import SharedEvents, undated_rows_of
from planner.life.likelihood import Derivatives

WEAK = LifePrior(age=ClockPrior(4, 8, spread_scale=2.0, spread_shape=1.5))
INF = np.inf


def _undated(parts, nodes, oldest):
    """Parts (years from joining to the end, failed?) fitted evenly over the ``oldest`` years before the car joined."""
    before = (np.arange(nodes) + 0.5) / nodes * oldest
    entry = np.tile(before, len(parts))
    end = np.concatenate([before + t for t, _ in parts])
    upper = np.concatenate([before + t if failed else np.full(nodes, INF) for t, failed in parts])
    return UndatedSpells(
        Spells.on_age(end, upper, entry),
        np.repeat(np.arange(len(parts)), nodes),
        np.full(len(parts) * nodes, 1 / nodes),
        np.ones(len(parts)),
        tuple(map(str, range(len(parts)))),
    )


def test_undated_row_equals_quadrature_over_the_fitting_day():
    # MODEL: ∫π·L_from_new / ∫π·S(entry), π even over 12 years; scipy's quadrature on the density itself.
    shape, scale, oldest = 2.3, 9.0, 12.0
    rows = undated_rows_of(_undated([(1.5, True), (4.0, False)], 2000, oldest))
    survival = lambda t: np.exp(-((t / scale) ** shape))  # noqa: E731 - a formula
    density = lambda t: shape / scale * (t / scale) ** (shape - 1) * survival(t)  # noqa: E731 - a formula
    below = quad(survival, 0, oldest)[0]
    brute = np.log(quad(lambda b: density(b + 1.5), 0, oldest)[0] / below)
    brute += np.log(quad(lambda b: survival(b + 4.0), 0, oldest)[0] / below)
    assert rows.log_likelihood(np.log([[shape, scale]]))[0] == pytest.approx(brute, rel=1e-6)


def test_one_node_is_an_ordinary_spell():
    known = _undated([(1.5, True), (4.0, False), (2.0, True)], 1, 6.0)
    rest = Spells.on_age([5.0, 7.0], [5.0, INF])
    joined = fit_life(rest, WEAK, joined=[undated_rows_of(known)])
    plain = fit_life(Spells.concat([rest, known.nodes]), WEAK)
    assert joined.parameters == pytest.approx(plain.parameters, abs=1e-6)
    assert joined.log_likelihood == pytest.approx(plain.log_likelihood, abs=1e-9)
    assert joined.covariance == pytest.approx(plain.covariance, rel=1e-5)
    assert (joined.evidence.histories, joined.evidence.failures) == (5, 3)


def _two_clock_rows():
    random = np.random.default_rng(3)
    entry = random.uniform(0, 5, 12)
    end = entry + random.uniform(0.5, 4, 12)
    bad = np.where(np.arange(12) % 4 < 2, end, INF)
    upper = np.where(np.arange(12) % 4 == 1, end + 1, bad)
    nodes = Spells.on_both(end * 3000, upper * 3000, end, upper, entry * 3000, entry)
    shares = random.dirichlet(np.ones(4), 3).ravel()
    undated = UndatedSpells(
        nodes, np.repeat(np.arange(3), 4), shares, np.array([1.0, 0.5, 2.0]), ("a", "b", "c")
    )
    exact = Spells.on_both(end * 3000, end * 3000, end, end, entry * 3000, entry)
    shared = SharedEvents.of(exact, np.arange(12) // 3, 0.5 + random.random(12), [0.0, 0.1, 0.4, 2.0])
    return [undated_rows_of(undated), shared]


@pytest.mark.parametrize("which", [0, 1])
def test_derivatives_are_those_of_the_value(which):
    rows = _two_clock_rows()[which]
    theta = np.array([0.6, 9.7, 1.1, 2.0])
    out = Derivatives(4)
    rows.add_to(out, theta)
    step = 1e-5 * np.eye(4)
    value = lambda t: float(rows.log_likelihood(t[None, :])[0])  # noqa: E731 - a formula
    assert out.value == pytest.approx(value(theta), rel=1e-12)
    slope = [(value(theta + h) - value(theta - h)) / 2e-5 for h in step]
    assert out.gradient == pytest.approx(slope, rel=1e-6, abs=1e-7)

    def gradient(t):
        there = Derivatives(4)
        rows.add_to(there, t)
        return there.gradient

    curve = np.array([(gradient(theta + h) - gradient(theta - h)) / 2e-5 for h in step])
    assert out.hessian == pytest.approx(curve, rel=1e-5, abs=1e-7)


def _bought_cars(count, seed):
    """Parts of shape 3 and scale 10 years, fitted evenly over 20 years before joining; those still good then, for 6 years."""
    random = np.random.default_rng(seed)
    life, before = 10 * random.weibull(3, 40 * count), random.uniform(0, 20, 40 * count)
    left = (life - before)[life > before][:count]
    return [(float(min(t, 6.0)), bool(t < 6.0)) for t in left]


def test_fitted_is_not_bought():
    parts = _bought_cars(600, seed=11)
    few = Spells.on_age([3.0, 4.0], [INF, INF])
    honest = fit_life(few, WEAK, joined=[undated_rows_of(_undated(parts, 64, 20.0))])
    time, failed = np.array([t for t, _ in parts]), np.array([f for _, f in parts])
    wrong = fit_life(Spells.on_age(time, np.where(failed, time, INF)), WEAK)
    error = np.sqrt(np.diag(honest.covariance))
    truth = np.log([3.0, 10.0])
    assert (np.abs(honest.parameters - truth) < 3 * error).all()
    assert wrong.age.scale < 7
    assert wrong.age.shape < 1.5, "a worn part taken for new hides wear"


def test_shared_event_of_one_kind_alone_is_a_failure():
    # With nothing else that may be guilty, ln(fit·h) - Λ differs from a failure's term by ln fit, a constant.
    one = Spells.on_age([5.0, 7.0, 9.0], [5.0, 7.0, 9.0], [1.0, 0.0, 2.0])
    rest = Spells.on_age([6.0, 8.0], [6.0, INF])
    shared = fit_life(rest, WEAK, joined=[SharedEvents.of(one, [0, 1, 2], [0.3, 1, 1], [0, 0, 0])])
    plain = fit_life(Spells.concat([rest, one]), WEAK)
    assert shared.parameters == pytest.approx(plain.parameters, abs=1e-6)
    assert shared.evidence.failures == pytest.approx(plain.evidence.failures)


def test_shared_event_of_others_certain_guilt_is_a_sound_part():
    one = Spells.on_age([5.0, 7.0], [5.0, 7.0])
    rest = Spells.on_age([6.0, 8.0], [6.0, INF])
    shared = fit_life(rest, WEAK, joined=[SharedEvents.of(one, [0, 1], [1, 1], [1e9, 1e9])])
    plain = fit_life(Spells.concat([rest, Spells.on_age([5.0, 7.0], [INF, INF])]), WEAK)
    assert shared.parameters == pytest.approx(plain.parameters, abs=1e-5)
    assert shared.evidence.failures == pytest.approx(1, abs=1e-6)


def test_masked_cause_finds_the_truth_where_calling_every_part_guilty_does_not():
    # Two kinds in each car, of which the other's life is known (shape 1, 4 years); at the first failure both are renewed.
    random = np.random.default_rng(0)
    own, other = 10 * random.weibull(3, 800), 4 * random.exponential(1, 800)
    end = np.minimum(own, other)
    both = Spells.on_age(end, end)
    event = np.arange(800)
    few = Spells.on_age([3.0, 4.0], [INF, INF])
    masked = fit_life(few, WEAK, joined=[SharedEvents.of(both, event, np.ones(800), np.full(800, 0.25))])
    error = np.sqrt(np.diag(masked.covariance))
    assert (np.abs(masked.parameters - np.log([3.0, 10.0])) < 3 * error).all()
    # At the true lives the guilt adds up to the number that were guilty, within three times its binomial spread of 9.
    truly = SharedEvents.of(both, event, np.ones(800), np.full(800, 0.25)).guilt(np.log([3.0, 10.0]))
    assert truly.sum() == pytest.approx((own < other).sum(), abs=27)
    assert masked.evidence.failures == pytest.approx(truly.sum(), abs=30)
    naive = fit_life(Spells.concat([few, both]), WEAK)
    assert naive.age.scale < 5


def test_limits_by_likelihood_ratio_know_of_the_joined_rows():
    rest = Spells.on_age([5.0, 7.0, 3.0], [5.0, INF, 3.0])
    parts = _undated([(1.5, True), (4.0, False), (2.0, True)], 1, 6.0)
    joined = fit_life(rest, WEAK, joined=[undated_rows_of(parts)])
    plain = fit_life(Spells.concat([rest, parts.nodes]), WEAK)
    assert joined.likelihood_ratio_limits("age.scale", 0.9) == pytest.approx(
        plain.likelihood_ratio_limits("age.scale", 0.9), rel=1e-5
    )


def test_refusals():
    rest = Spells.on_age([5.0, 7.0], [5.0, INF])
    rows = undated_rows_of(_undated([(1.5, True)], 4, 6.0))
    with pytest.raises(PriorError):
        fit_life(rest, joined=[rows])
    with pytest.raises(InputError) as refused:
        fit_life(Spells.on_distance([5.0], [5.0]), LifePrior(distance=ClockPrior(1, 2)), joined=[rows])
    assert refused.value.field == "joined"


@pytest.mark.parametrize(
    ("spells", "event", "fit", "others", "field"),
    [
        (Spells.on_age([5.0], [INF]), [0], [1], [0], "spells"),
        (Spells.on_age([5.0], [5.0]), [1], [1], [0], "event"),
        (Spells.on_age([5.0], [5.0]), [0], [0], [0], "fit"),
        (Spells.on_age([5.0], [5.0]), [0], [1], [-1], "others"),
        (Spells.on_age([5.0], [5.0]), [0], [1], [np.nan], "others"),
    ],
)
def test_shared_events_refuse_by_name(spells, event, fit, others, field):
    with pytest.raises(SpellError) as refused:
        SharedEvents.of(spells, event, fit, others)
    assert refused.value.field == field
