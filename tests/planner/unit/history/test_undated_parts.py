"""Parts of unknown fitting day: a mixture of days, the right life out of it, and never the purchase."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from scipy.optimize import minimize

import planner.history.undated as undated_module
from planner.history.conversion import spells_from
from planner.history.odometer import OdometerTrack
from planner.history.part_history import PartHistory
from planner.history.records import Fitment, Removal, Vehicle
from planner.history.undated import UndatedSpells

TODAY = date(2026, 1, 1)
BUILT, JOINED = date(1990, 1, 1), date(2010, 1, 1)
SHAPE, SCALE = 2.5, 18.0


def after(day, years):
    return day + timedelta(days=round(365.25 * years))


def bought(ref, removed_on=None, *, built="1990-01-01", fitted_on=None, **more):
    vehicle = Vehicle(ref=ref, name=ref, built=built, joined_on=JOINED)
    removal = None if removed_on is None else Removal(removed_on=removed_on, reason="failed, confirmed")
    track = OdometerTrack.from_km([JOINED, TODAY], [50_000, 66_000])
    return PartHistory(
        vehicle, Fitment(ref=ref, kind="x", fitted_on=fitted_on, **more), removal=removal, track=track
    )


def kept(*histories, clocks=("age",)):
    return spells_from(histories, clocks, TODAY, undated="keep")


def log_likelihood(mixture, shape, scale):
    """Straight from the formula: Σ w·[ln Σ π·L_from_new - ln Σ π·S(entry)], one Weibull clock of age."""
    bounds = mixture.nodes.years

    def survival(t):
        return np.exp(-((t / scale) ** shape))

    density = shape / scale * (bounds.lower / scale) ** (shape - 1.0) * survival(bounds.lower)
    seen = np.where(mixture.nodes.exact, density, survival(bounds.lower))
    above = np.bincount(mixture.row, mixture.share * seen)
    below = np.bincount(mixture.row, mixture.share * survival(bounds.entry))
    return float(np.sum(mixture.weight * np.log(above / below)))


def fitted_life(mixture):
    best = minimize(
        lambda at: -log_likelihood(mixture, *np.exp(at)),
        np.log([2.0, 15.0]),
        method="Nelder-Mead",
        options={"xatol": 1e-7},
    )
    return tuple(np.exp(best.x))


def simulated(count=600, seed=3):
    """Fitted on a day spread evenly between build and purchase, seen only where they lived to the purchase."""
    random = np.random.default_rng(seed)
    parts = []
    while len(parts) < count:
        fitted = after(BUILT, random.uniform(0.0, 20.0))
        out = after(fitted, SCALE * random.weibull(SHAPE))
        if out > JOINED + timedelta(days=1):
            parts.append((fitted, out))
    return parts


def test_the_days_are_spread_between_build_and_purchase():
    mixture = kept(bought("a", "2015-01-01")).undated
    assert len(mixture) == 1
    assert mixture.refs == ("a",)
    assert mixture.share.sum() == pytest.approx(1)
    assert mixture.nodes.exact.all()
    ages = mixture.nodes.years.lower
    assert 5.0 < ages.min() < 6.0
    assert 24.0 < ages.max() < 25.0
    assert np.allclose(ages - mixture.nodes.years.entry, 5.0, atol=0.01)
    assert np.allclose(np.diff(np.sort(ages)), 20.0 / 16.0, atol=0.01)


def test_without_keeping_they_are_left_out_and_listed():
    result = spells_from([bought("a")], ("age",), TODAY)
    assert (result.spells, result.undated) == (None, None)
    assert result.left_out[0].ref == "a"


def test_dated_parts_stay_ordinary_rows_beside_them():
    result = kept(bought("a"), bought("b", fitted_on="2005-06"))
    assert len(result.spells) == 1
    assert result.spells.years.entry[0] == pytest.approx(4.5, abs=0.1)
    assert len(result.undated) == 1
    assert not result.left_out


def test_a_date_code_and_a_likely_original_move_the_spread():
    coded = kept(bought("a", "2015-01-01", made_on="2004-01")).undated
    assert coded.nodes.years.lower.max() < 11.1
    original = kept(bought("a", "2015-01-01", original_chance=0.6)).undated
    assert original.share[np.argmax(original.nodes.years.lower)] == pytest.approx(0.6)
    assert original.nodes.years.lower.max() == pytest.approx(25.0, abs=0.01)


def test_an_unknown_build_date_bounds_the_age_at_forty_years():
    mixture = kept(bought("a", built=None)).undated
    assert mixture.nodes.years.entry.max() < 40.0


def test_both_clocks_go_together_and_a_written_figure_stays():
    written = bought("a", "2015-01-01", odometer={"value": 30_000, "unit": "km"}, fitted_on="199X")
    nodes = kept(written, clocks=("distance", "age")).undated.nodes
    assert np.ptp(nodes.km.lower) == 0
    assert np.ptp(nodes.years.lower) > 5
    nodes = kept(bought("a", "2015-01-01"), clocks=("distance", "age")).undated.nodes
    by_day = nodes.km.lower.reshape(16, 5).mean(axis=1)
    assert np.all(np.diff(by_day[np.argsort(nodes.years.lower.reshape(16, 5)[:, 0])]) > 0)
    assert np.all(nodes.km_per_year > 0)


def test_a_known_day_far_from_any_reading_spreads_the_distance_alone():
    dated = bought("a", "2015-01-01", fitted_on="1995-01-01")
    assert "distance" in spells_from([dated], ("distance", "age"), TODAY).left_out[0].reason
    result = kept(dated, clocks=("distance", "age"))
    assert not result.left_out
    nodes = result.undated.nodes
    assert len(nodes) == 5
    assert np.ptp(nodes.years.lower) == 0
    assert nodes.km.lower.min() < 17_000  # 20,000 km in 20 years, at the pace since
    assert nodes.km.lower.max() > 23_000
    assert np.allclose(nodes.km.lower - nodes.km.entry, 5_000, atol=10)
    assert kept(dated, clocks=("age",)).undated is None


def test_a_car_watched_before_its_first_reading_gives_no_part_a_distance_below_nothing():
    first_read = OdometerTrack.from_km([after(JOINED, 4), TODAY], [80_000, 116_000])
    part = replace(bought("a", built="1981-01-01"), track=first_read)
    result = kept(part, clocks=("distance", "age"))
    assert not result.left_out
    assert result.undated.nodes.km.entry.min() >= 0.0
    assert np.ptp(result.undated.nodes.km.entry) > 20_000
    dated = replace(bought("a", fitted_on="2005-01-01", built="1981-01-01"), track=first_read)
    assert kept(dated, clocks=("distance", "age")).undated.nodes.km.entry.min() >= 0.0


def test_a_rough_removal_day_is_spread_too():
    mixture = kept(bought("a", "201X", fitted_on="2005-01-01")).undated
    ages = mixture.nodes.years.lower
    assert len(ages) == 8
    assert 5.0 < ages.min() < ages.max() < 15.0


def test_the_mixture_finds_the_life_and_dating_to_the_purchase_does_not():
    parts = simulated()
    papers = [bought(f"p{n}", out if out <= TODAY else None) for n, (_, out) in enumerate(parts)]
    both = kept(*papers).undated
    assert len(both) == len(parts)
    shape, scale = fitted_life(both)
    assert scale == pytest.approx(SCALE, rel=0.08)
    assert shape == pytest.approx(SHAPE, rel=0.2)
    as_if_new = kept(
        *(bought(f"p{n}", out, fitted_on=JOINED) for n, (_, out) in enumerate(parts) if out <= TODAY),
        *(bought(f"q{n}", fitted_on=JOINED) for n, (_, out) in enumerate(parts) if out > TODAY),
    ).spells
    wrong = UndatedSpells(
        as_if_new, np.arange(len(parts)), np.ones(len(parts)), as_if_new.weight, ("",) * len(parts)
    )
    assert fitted_life(wrong)[1] < 0.7 * SCALE


def test_four_times_as_many_days_hardly_move_the_fit(monkeypatch):
    parts = [bought(f"p{n}", out) for n, (_, out) in enumerate(simulated(150)) if out <= TODAY]
    few = fitted_life(kept(*parts).undated)
    monkeypatch.setattr(undated_module, "FITTING_DAYS", 64)
    assert few == pytest.approx(fitted_life(kept(*parts).undated), rel=0.01)
