"""Known shape: lower bounds, sound parts as proof, gamma law of the rate, against closed forms and published values."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import gamma

from planner import Spells
from planner.errors import FitNotConverged, InputError, PriorError, SpellError
from planner.life.known_shape import RateLaw, life_of, scale_lower_bound, sound_parts_needed
from tests.planner.published import published_lives as data


@pytest.mark.parametrize(("shape", "b10"), [(1.0, 1866.54219), (1.5, 2785.97949), (2.0, 3492.10556)])
def test_fans_lower_bound_of_b10(shape, b10):
    # (2·Σt^shape/chi²(0.95; 26 df))^(1/shape): Abernethy et al. 1983; IEC 61649; chi-square and gamma quantile agree.
    t, failed, count = data.FANS.T
    spells = Spells.on_distance(t, np.where(failed == 1, t, np.inf), weight=count)
    assert life_of(scale_lower_bound(spells, shape), shape, 0.1) == pytest.approx(b10, rel=1e-8)


def test_eight_sound_parts():
    # 8 x 40,000 km, none failed, shape 2.5, 90 %: (8·40000^2.5/ln 10)^(1/2.5), closed form.
    sound = Spells.on_distance([40000.0] * 8, [np.inf] * 8)
    scale = scale_lower_bound(sound, 2.5, 0.9)
    assert scale == pytest.approx(65827.856, rel=1e-8)
    assert np.exp(-((30000 / scale) ** 2.5)) == pytest.approx(0.869175726, rel=1e-8)


def test_entry_counts_from_where_the_watch_began():
    # Two parts watched from 20,000 to 40,000 km tell as much, at a shape of 1, as one from 0 to 40,000.
    late = Spells.on_distance([40000.0] * 2, [np.inf] * 2, entry=[20000.0] * 2)
    whole = Spells.on_distance([40000.0], [np.inf])
    assert scale_lower_bound(late, 1.0) == pytest.approx(scale_lower_bound(whole, 1.0))
    assert scale_lower_bound(late, 2.0) > scale_lower_bound(whole, 2.0)


def test_sound_parts_needed():
    # MatthewReid854/reliability docs, "Sample size required for no failures".
    assert sound_parts_needed(0.999, 0.95) == 2995


@pytest.fixture(scope="module")
def updated():
    # Soland 1969; thousands of km: prior count 2, exposure 2·60², one failure at 45, still good at 30, 50, 70.
    spells = Spells.on_distance([45, 30, 50, 70], [45, np.inf, np.inf, np.inf])
    return RateLaw(2, 2 * 60**2, shape=2).given(spells)


def test_gamma_law_after_one_failure(updated):
    assert updated.survival(60) == pytest.approx(0.570931398, rel=1e-8)
    assert updated.scale_above(0.5) == pytest.approx(80.954951, rel=1e-8)
    assert updated.scale_above(0.95) == pytest.approx(52.7598767, rel=1e-8)
    assert updated.life_at(0.1) == pytest.approx(25.0283151, rel=1e-8)


def test_survival_averages_over_the_law(updated):
    law = gamma(updated.count, scale=1 / updated.exposure)
    brute = quad(lambda rate: np.exp(-rate * 60**2) * law.pdf(rate), 0, law.ppf(1 - 1e-13))[0]
    assert updated.survival(60) == pytest.approx(brute, rel=1e-6)


def test_gamma_law_through_two_guesses():
    # NIST/SEMATECH e-Handbook 8.2.5 (from memory): 600 h even, 250 h at 95 %. b is printed for a rounded to 2.863; this is unrounded.
    law = RateLaw.through(600, 250)
    assert law.count == pytest.approx(2.863, abs=6e-4)
    assert law.exposure == pytest.approx(1522.50562, rel=1e-7)
    assert law.scale_above(0.95) == pytest.approx(250, rel=1e-10)


def test_gamma_law_after_a_test():
    # NIST/SEMATECH e-Handbook 8.4.6 (from memory): a = 4, b = 3090: median 841 h, 80 % lower 560 h.
    law = RateLaw(4, 3090)
    assert law.scale_above(0.5) == pytest.approx(841, abs=0.6)
    assert law.scale_above(0.8) == pytest.approx(560, abs=0.6)


@pytest.mark.parametrize(
    ("call", "error", "field"),
    [
        (lambda: RateLaw(0, 1), PriorError, "count"),
        (lambda: RateLaw.through(100, 200), PriorError, "sure"),
        (lambda: RateLaw.through(200, 100, level=0.4), PriorError, "level"),
        (lambda: RateLaw(2, 3).survival(-1), InputError, "t"),
        (lambda: RateLaw(2, 3).life_at(1), InputError, "fraction"),
        (lambda: scale_lower_bound(Spells.on_distance([1.0], [2.0]), 2), SpellError, "spells"),
        (lambda: scale_lower_bound(Spells.on_distance([1.0], [np.inf]), 0), InputError, "shape"),
        (lambda: scale_lower_bound(Spells.on_distance([1.0], [np.inf]), 2, 1.0), InputError, "level"),
        (lambda: sound_parts_needed(1.0, 0.9), InputError, "reliability"),
    ],
)
def test_refusals_name_the_field(call, error, field):
    with pytest.raises(error) as refused:
        call()
    assert refused.value.field == field


def test_two_guesses_that_no_law_holds_are_refused():
    with pytest.raises(FitNotConverged):
        RateLaw.through(1e80, 1e-9)
