"""Published curves without a law: Turnbull masses, life table, Kaplan-Meier with delayed entry."""

from __future__ import annotations

import numpy as np
import pytest

from planner import Spells, fit_life, survival_curve
from planner.errors import NobodyWatched
from tests.planner.published import published_lives as data

INF = np.inf


def test_turnbull_1974():
    # Turnbull 1974, printed to three digits; .538, .295, .210, .095.
    lower, upper, count = [], [], []
    for t, (exact, right, left) in data.TURNBULL.items():
        for low, high, n in ((t, t, exact), (t, np.inf, right), (0, t, left)):
            if n:
                lower.append(low)
                upper.append(high)
                count.append(n)
    curve = survival_curve(Spells.on_age(lower, upper, weight=count))
    assert curve.method == "Turnbull"
    assert curve.at([1, 2, 3, 4]) == pytest.approx([0.538, 0.295, 0.210, 0.095], abs=6e-4)
    assert curve.at([1, 2, 3, 4]) == pytest.approx(
        [0.537567812, 0.294593986, 0.209760177, 0.0948457534], abs=1e-6
    )


def test_fay_and_shaw_rational_masses():
    # Fay & Shaw 2010, Table 2: 2/7, 2/7, 3/14, 3/14.
    curve = survival_curve(Spells.on_age(*data.FAY_SHAW))
    assert [(m.left, m.right) for m in curve.masses] == [(2, 3), (5, 6), (9, 10), (10, 12)]
    assert [m.mass for m in curve.masses] == pytest.approx([2 / 7, 2 / 7, 3 / 14, 3 / 14], abs=1e-9)


def test_breast_cosmesis():
    # Finkelstein & Wolfe 1985; masses printed in Fay & Shaw 2010, section 4.1. Of the last mass only the total beyond
    # 46 months is identified where right ends are infinite.
    lower, upper = zip(*data.COSMESIS, strict=True)
    curve = survival_curve(Spells.on_age(lower, upper))
    spans = [(4, 5), (6, 7), (7, 8), (11, 12), (24, 25), (33, 34), (38, 40), (46, 48)]
    printed = [0.0463, 0.0334, 0.0887, 0.0708, 0.0926, 0.0818, 0.1209, 0.4656]
    assert [(m.left, m.right) for m in curve.masses] == spans
    assert [m.mass for m in curve.masses] == pytest.approx(printed, abs=6e-5)
    assert curve.at([10, 30]) == pytest.approx([0.831622487, 0.668223729], abs=1e-6)


def test_heat_exchanger_life_table():
    # Meeker & Escobar 1998, Tables 1.2 and 3: F = .0133, .0384, .0582 (weakly remembered) with Greenwood standard
    # errors .00662, .0128, .0187 (from memory); both recomputed.
    lower, upper, count = data.HEAT_EXCHANGER.T
    curve = survival_curve(Spells.on_age(lower, upper, weight=count))
    assert curve.method == "life table"
    assert 1 - curve.survival == pytest.approx([0.0133, 0.0384, 0.0582], abs=6e-5)
    assert curve.standard_error == pytest.approx([0.00662207308, 0.0128021152, 0.0187006295], abs=1e-9)


def test_kaplan_meier_with_entry_counts_only_those_under_observation():
    # By hand: at t a part is at risk if entry < t <= end (Lawless 2003, section 3.5).
    random = np.random.default_rng(11)
    entry = np.round(random.uniform(0, 5, 40), 0)
    end = entry + 1 + np.round(random.uniform(0, 8, 40), 0)
    failed = random.random(40) < 0.6
    curve = survival_curve(Spells.on_age(end, np.where(failed, end, np.inf), entry))
    left = 1.0
    for t, value in zip(curve.times, curve.survival, strict=True):
        at_risk = ((entry < t) & (end >= t)).sum()
        left *= 1 - (failed & (end == t)).sum() / at_risk
        assert value == pytest.approx(left, abs=1e-12)
    ignoring = survival_curve(Spells.on_age(end, np.where(failed, end, np.inf)))
    assert abs(ignoring.at(6.0) - curve.at(6.0)) > 0.02


def test_fitted_law_of_the_fans_lies_within_the_curve_s_limits():
    t, failed, count = data.FANS.T
    spells = Spells.on_distance(t, np.where(failed == 1, t, np.inf), weight=count)
    curve, life = survival_curve(spells), fit_life(spells)
    law = life.survival(km=curve.times)
    assert ((curve.lower <= law) & (law <= curve.upper)).all()


@pytest.mark.parametrize("entry", [2.0, 5.0])
def test_a_time_at_which_nobody_is_watched_is_refused(entry):
    # All seen early fail at 2 and the rest come at 2 or later: the product limit would be 0 from there on, whatever they do.
    with pytest.raises(NobodyWatched, match="nobody was left under observation after 2") as refused:
        survival_curve(Spells.on_age([2, 2, 9, 9.0], [2, 2, INF, 9], [0, 0, entry, entry]))
    assert refused.value.reading == 2
    with pytest.raises(NobodyWatched):  # nobody fails before the gap
        survival_curve(Spells.on_age([2, 2, 9, 9.0], [INF, INF, INF, 9], [0, 0, entry, entry]))


def test_late_entry_that_leaves_no_gap_is_estimated():
    curve = survival_curve(Spells.on_age([2, 3, 9, 9.0], [2, INF, INF, 9], [0, 0, 1, 2.5]))
    assert curve.survival == pytest.approx([2 / 3, 1 / 3])  # by hand: three at risk at 2, two at 9
