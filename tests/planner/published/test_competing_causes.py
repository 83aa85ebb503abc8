"""Cumulative incidence of competing causes against published values."""

from __future__ import annotations

import numpy as np
import pytest

from planner import Spells, survival_curve
from planner.errors import NobodyWatched, SpellError
from planner.life.second_opinions.competing import cumulative_incidence

# Scrucca, Santucci & Aversa 2007, Bone Marrow Transplant. 40:381-387: (disease, time, cause; 0 censored). Values printed by
# R cmprsk, kept in scikit-survival's tests. One event stands at time 0.
BMT = np.array(
    [
        (0, 13, 2), (0, 1, 1), (0, 72, 0), (0, 7, 2), (0, 8, 2), (1, 67, 0), (0, 9, 2), (0, 5, 2), (1, 70, 0), (1, 4, 0),
        (1, 7, 0), (1, 68, 0), (0, 1, 2), (1, 10, 2), (1, 7, 2), (1, 3, 1), (1, 4, 1), (1, 4, 1), (1, 3, 1), (1, 3, 1),
        (0, 22, 2), (1, 8, 1), (1, 2, 2), (0, 0, 2), (0, 0, 1), (0, 35, 0), (1, 35, 0), (0, 4, 2), (0, 14, 2), (0, 26, 2),
        (0, 3, 2), (1, 2, 0), (1, 8, 0), (1, 32, 0), (0, 12, 1),
    ]
)  # fmt: skip

# scikit-survival tests, data_three_competing_cases: (time, cause; 0 censored).
THREE = [
    (5.3, 1), (10.2, 0), (4.5, 3), (12.7, 0), (7.4, 2), (8.6, 3), (9.1, 0), (3.3, 1), (6.9, 3), (11.5, 0), (15.2, 1),
    (13.1, 0), (10.0, 3), (5.9, 0), (8.2, 2), (4.3, 0), (6.1, 0), (14.7, 3), (16.9, 0), (3.7, 1), (5.0, 0), (7.8, 3),
    (9.5, 1), (11.9, 0), (10.6, 2), (6.4, 0), (4.8, 3), (12.3, 2), (14.0, 0),
]  # fmt: skip


def _incidence(times, causes):
    return cumulative_incidence(times, [None if c == 0 else str(int(c)) for c in causes])


@pytest.mark.parametrize(
    ("disease", "t", "first", "second"),
    [
        (None, 4, 0.20492611, 0.14482759),
        (None, 10, 0.23771164, 0.34076015),
        (None, 72, 0.27283899, 0.48126955),
        (0, 9, 0.11764706, 0.47058824),
        (0, 26, 0.17647059, 0.70588235),
        (1, 4, 0.29513889, 0.05555556),
        (1, 10, 0.36818576, 0.20570747),
    ],
)
def test_transplants_by_disease(disease, t, first, second):
    rows = BMT if disease is None else BMT[BMT[:, 0] == disease]
    found = _incidence(rows[:, 1], rows[:, 2])
    assert found.at("1", t) == pytest.approx(first, abs=1e-8)
    assert found.at("2", t) == pytest.approx(second, abs=1e-8)


@pytest.mark.parametrize(
    ("cause", "t", "share"),
    [
        ("1", 9.5, 0.15292541),
        ("1", 16.9, 0.28471974),
        ("2", 12.3, 0.20368215),
        ("3", 9.5, 0.20141549),
        ("3", 16.9, 0.37980378),
    ],
)
def test_three_causes(cause, t, share):
    assert _incidence(*np.array(THREE).T).at(cause, t) == pytest.approx(share, abs=1e-8)


def test_causes_and_those_still_on_add_up_to_one():
    found = _incidence(*np.array(THREE).T)
    assert sum(found.by_cause.values()) + found.still_on == pytest.approx(np.ones(len(found.times)))


def test_one_minus_kaplan_meier_overstates_a_cause():
    times, causes = np.array(THREE).T
    alone = survival_curve(Spells.on_distance(times, np.where(causes == 1, times, np.inf)))
    assert 1 - alone.at(16.9) > _incidence(times, causes).at("1", 16.9) + 0.05


def test_one_cause_with_delayed_entry_is_kaplan_meier():
    # Delayed entry by hand: at 3 one of two at risk goes, at 7 one of two (the third came at 4).
    found = cumulative_incidence([3, 7, 9], ["failed", "failed", None], entry=[0, 0, 4])
    assert found.at("failed", [3, 7]) == pytest.approx([0.5, 0.75])


@pytest.mark.parametrize("entry", [2.0, 4.0])
def test_a_time_at_which_nobody_is_watched_is_refused(entry):
    with pytest.raises(NobodyWatched) as refused:
        cumulative_incidence([1, 2, 9], ["failed", "lost", "failed"], entry=[0, 0, entry])
    assert refused.value.reading == 2
    found = cumulative_incidence([0, 2, 9], ["failed", "lost", "failed"], entry=[0, 0, 1])
    assert found.still_on == pytest.approx([1 / 2, 1 / 4, 0])  # by hand: 2 at risk at 0, 2 at 2, 1 at 9


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        (([1.0, 2.0], ["a"]), "end"),
        (([1.0], [None]), "cause"),
        (([np.nan], ["a"]), "end"),
        (([2.0], ["a"], [2.0]), "entry"),
        (([2.0, 3.0], ["a", 3]), "cause"),
        ((["2", "3"], ["a", None]), "end"),
        ((np.ma.masked_array([2.0, 3.0], [True, False]), ["a", None]), "end"),
        (([2.0], ["a"], None, [0.0]), "weight"),
    ],
)
def test_refusals_name_the_argument(arguments, field):
    with pytest.raises(SpellError) as refused:
        cumulative_incidence(*arguments)
    assert refused.value.field == field
