"""Priors: two quantiles with spreads, refused where they make no sense."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from planner import ClockPrior, LifePrior, Spells, book_life, book_prior, fit_life
from planner.errors import PriorError


@pytest.mark.parametrize(
    ("field", "given"),
    [
        ("p10", {"p10": 5, "p50": 5}),
        ("p10", {"p10": 6, "p50": 5}),
        ("p10", {"p10": 0, "p50": 5}),
        ("p10", {"p10": -1, "p50": 5}),
        ("p10", {"p10": math.nan, "p50": 5}),
        ("p50", {"p10": 1, "p50": math.inf}),
        ("p50", {"p10": 1, "p50": "soon"}),
        ("spread_scale", {"p10": 1, "p50": 2, "spread_scale": 0}),
        ("spread_scale", {"p10": 1, "p50": 2, "spread_scale": math.inf}),
        ("spread_shape", {"p10": 1, "p50": 2, "spread_shape": -0.1}),
        ("spread_shape", {"p10": 1, "p50": 2, "spread_shape": None}),
    ],
)
def test_senseless_quantiles_and_spreads_are_named(field, given):
    with pytest.raises(PriorError) as refusal:
        ClockPrior(**given)
    assert refusal.value.field == field


def test_a_prior_needs_a_clock():
    with pytest.raises(PriorError):
        LifePrior()
    with pytest.raises(PriorError, match="ClockPrior"):
        LifePrior(distance=(1, 2))


def test_prior_on_other_clocks_than_the_spells_is_refused():
    spells = Spells.on_distance([5.0], [np.inf])
    with pytest.raises(PriorError, match="distance"):
        fit_life(spells, LifePrior(age=ClockPrior(5, 10)))
    with pytest.raises(PriorError):
        fit_life(spells, LifePrior(distance=ClockPrior(5, 10), age=ClockPrior(5, 10)))
    with pytest.raises(PriorError, match="LifePrior"):
        fit_life(spells, ClockPrior(5, 10))


def kind():
    clock = SimpleNamespace(p10=30000.0, p50=70000.0, spread_scale=0.5, spread_shape=0.35)
    ageing = SimpleNamespace(p10=5.0, p50=12.0, spread_scale=0.4, spread_shape=0.3)
    return SimpleNamespace(id="rotor_arm", clocks=("distance", "age"), distance=clock, age=ageing)


def test_book_prior_takes_the_catalogues_figures():
    prior = book_prior(kind())
    assert prior == LifePrior(ClockPrior(30000, 70000, 0.5, 0.35), ClockPrior(5, 12, 0.4, 0.3))
    assert book_prior(kind(), ["age"]) == LifePrior(age=ClockPrior(5, 12, 0.4, 0.3))
    with pytest.raises(PriorError, match="rotor_arm"):
        book_prior(kind(), ["starts"])


def test_book_life_is_all_prior():
    prior = book_prior(kind())
    life = book_life(prior, draws=20_000)
    assert life.distance.shape == pytest.approx(prior.distance.shape)
    assert life.age.scale == pytest.approx(prior.age.scale)
    assert life.evidence.prior_share == 1
    assert life.evidence.histories == life.evidence.failures == 0
    assert life.draws.mean(axis=0) == pytest.approx(prior.mean, abs=0.02)
    assert life.draws.std(axis=0) == pytest.approx(prior.spread, rel=0.03)
    assert np.diag(life.covariance) == pytest.approx(prior.spread**2)
    assert life.survival(km=0, years=0) == 1


@pytest.mark.parametrize("prior", ["x", None, ClockPrior(5, 10)])
def test_a_book_life_wants_a_prior(prior):
    with pytest.raises(PriorError) as refusal:
        book_life(prior)
    assert refusal.value.field == "prior"
