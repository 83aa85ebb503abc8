"""How often new parts are bad: the posterior where it is known in closed form, and on simulated truth."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import beta

from planner import Spells, known_life
from planner.errors import InputError, PriorError, SpellError
from planner.life.new_parts.share import new_part_fault

INF = np.inf


def test_without_wear_it_is_the_beta_posterior():
    # Wear that cannot have begun within the span: 3 bad of 60 on a Beta(1, 49) prior give Beta(4, 106), closed form.
    spells = Spells.on_distance([500.0, 900, 1500] + [5000] * 57, [500.0, 900, 1500] + [INF] * 57)
    found = new_part_fault(spells, known_life(distance=(30.0, 50000)), span=2000, expected=0.02, worth=50)
    law = beta(4, 106)
    assert found.mean == pytest.approx(law.mean(), rel=1e-4)
    assert (found.low, found.high) == pytest.approx((law.ppf(0.1), law.ppf(0.9)), abs=5e-4)
    assert (found.parts, found.early, found.by_fault) == (60, 3, pytest.approx(3))


@pytest.mark.parametrize(
    ("expected", "worth", "sound", "bad"),
    [
        (0.001, 50, 200, 0),
        (0.005, 50, 1, 0),
        (0.02, 1, 1, 0),
        (0.0005, 50, 1, 0),
        (0.0005, 1, 1e5, 0),
        (0.99, 1, 3, 0),
        (0.001, 50, 2_000, 3),
        (0.001, 50, 2e6, 3e4),
        (0.5, 1e6, 3, 1),
    ],
)
def test_thin_priors_and_rare_faults_give_the_beta_posterior_too(expected, worth, sound, bad):
    # Closed form: a sound life so long that early failures are all faults, Beta(a + bad, b + sound).
    ends = ([1.0, 0.05], [INF, 0.05]) if bad else ([1.0], [INF])
    spells = Spells.on_age(*ends, weight=[sound, bad] if bad else [sound])
    found = new_part_fault(spells, known_life(age=(60, 15)), span=0.1, expected=expected, worth=worth)
    law = beta(expected * worth + bad, (1 - expected) * worth + sound)
    assert found.mean == pytest.approx(law.mean(), rel=1e-3)
    assert (found.low, found.high) == pytest.approx((law.ppf(0.1), law.ppf(0.9)), rel=1e-3, abs=2e-17)


def test_numbers_of_any_kind_serve_alike():
    spells, life = Spells.on_age([1.0], [INF]), known_life(age=(6, 15))
    plain = new_part_fault(spells, life, span=0.1, expected=0.25, worth=8)
    assert new_part_fault(spells, life, span=0.1, expected=np.float32(0.25), worth=np.int64(8)) == plain


@pytest.mark.parametrize("both", [False, True])
def test_simulated_share_is_found_amid_wear(both):
    random = np.random.default_rng(2)
    bad = random.random(4000) < 0.06
    wear = 8000 * random.weibull(1.5, 4000)
    end = np.where(bad, 2000 * random.random(4000), wear)
    stop = random.uniform(500, 6000, 4000)
    lower = np.minimum(end, stop)
    upper = np.where(end <= stop, end, INF)
    if both:
        spells = Spells.on_both(lower, upper, lower / 2000, upper / 2000)
        life = known_life(distance=(1.5, 8000), age=(3, 1000))
    else:
        spells, life = Spells.on_distance(lower, upper), known_life(distance=(1.5, 8000))
    found = new_part_fault(spells, life, span=2000)
    assert found.mean == pytest.approx(0.06, abs=0.015)
    assert found.low < 0.06 < found.high + 0.01
    early = (upper <= 2000) & np.isfinite(upper)
    assert found.early == early.sum()
    assert found.by_fault == pytest.approx((early & bad).sum(), rel=0.2)
    assert found.early / found.parts > 1.5 * found.mean, "calling every early failure a fault overstates it"


def test_parts_bought_used_do_not_count():
    spells = Spells.on_distance([500.0, 3000], [500.0, INF], [0.0, 1000])
    assert new_part_fault(spells, known_life(distance=(2, 50000)), span=2000).parts == 1


@pytest.mark.parametrize(
    ("change", "error", "field"),
    [
        ({"span": 0}, InputError, "span"),
        ({"span": "2000"}, InputError, "span"),
        ({"expected": 1.0}, PriorError, "expected"),
        ({"expected": 0}, PriorError, "expected"),
        ({"expected": "0.02"}, PriorError, "expected"),
        ({"worth": None}, PriorError, "worth"),
        ({"spells": [1]}, SpellError, "spells"),
        ({"worth": -1}, PriorError, "worth"),
        ({"life": known_life(age=(2, 5))}, InputError, "life"),
        ({"spells": Spells.on_distance([3000.0], [INF], [1000.0])}, SpellError, "spells"),
    ],
)
def test_refusals_name_the_field(change, error, field):
    given = {
        "spells": Spells.on_distance([500.0], [500.0]),
        "life": known_life(distance=(2, 50000)),
        "span": 2000,
    }
    with pytest.raises(error) as refused:
        new_part_fault(**{**given, **change})
    assert refused.value.field == field
