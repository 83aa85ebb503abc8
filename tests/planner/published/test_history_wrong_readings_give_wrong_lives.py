"""Papers read rightly give the right life; the usual misreadings of the same papers give another one.

The fits here are the plainest possible (one Weibull clock, general-purpose optimiser), so that the difference comes from the
spells and not from the product's own fit.
"""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from scipy.optimize import minimize

from planner.history.conversion import spells_from
from planner.history.odometer import OdometerTrack
from planner.history.part_history import PartHistory
from planner.history.records import Fitment, Removal, Vehicle

TODAY = date(2026, 1, 1)
FITTED, JOINED, OUT = date(2000, 1, 1), date(2005, 1, 1), date(2015, 1, 1)


def weibull(spells, *, use_entry=True):
    """(shape, scale) at the maximum of the likelihood of exact and right-censored rows with delayed entry."""
    entry = spells.km.entry if use_entry else np.zeros(len(spells))
    end, failed, weight = spells.km.lower, spells.exact, spells.weight

    def minus_log_likelihood(at):
        shape, scale = np.exp(at)
        hazard = np.log(shape / scale) + (shape - 1.0) * np.log(end / scale)
        exposure = (end / scale) ** shape - (entry / scale) ** shape
        return -np.sum(weight * (np.where(failed, hazard, 0.0) - exposure))

    start = [np.log(1.5), np.log(end.mean() * 1.3)]
    best = minimize(
        minus_log_likelihood,
        start,
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-10, "maxiter": 4_000},
    )
    return tuple(np.exp(best.x))


def part(ref, km_out, *, entry_km=None, reason="failed, confirmed", cured=None):
    """A part fitted new at 0 km; the car joined at `entry_km`, where given."""
    vehicle = Vehicle(ref=ref, name=ref, joined_on=None if entry_km is None else JOINED)
    days, km = [FITTED, OUT], [0.0, km_out]
    if entry_km is not None:
        days, km = [FITTED, JOINED, OUT], [0.0, entry_km, km_out]
    fitment = Fitment(ref=ref, kind="x", fitted_on=FITTED, odometer={"value": 0, "unit": "km"})
    removal = Removal(removed_on=OUT, odometer={"value": km_out, "unit": "km"}, reason=reason, cured=cured)
    return PartHistory(vehicle, fitment, removal=removal, track=OdometerTrack.from_km(days, km))


def used_cars():
    """Five conditional quantiles of a Weibull life (shape 2.5, scale 60) at each of four entry distances, in 1,000 km."""
    for entry in (0.0, 20.0, 40.0, 60.0):
        for p in (0.1, 0.3, 0.5, 0.7, 0.9):
            yield entry, 60.0 * ((entry / 60.0) ** 2.5 - np.log1p(-p)) ** 0.4


def test_delayed_entry_gives_the_known_fit_and_leaving_it_out_another():
    """Expected values: three independent routes (own likelihood, another survival library, a second parametrisation)
    agreed on shape 2.86327683, scale 61.0351045; without entry 3.65039115 and 69.0527799. The data are constructed."""
    parts = [
        part(f"car {n}", 1_000.0 * end, entry_km=1_000.0 * entry)
        for n, (entry, end) in enumerate(used_cars())
    ]
    spells = spells_from(parts, ["distance"], TODAY).spells
    shape, scale = weibull(spells)
    assert (shape, scale / 1_000.0) == pytest.approx((2.86327683, 61.0351045), rel=1e-5)
    shape, scale = weibull(spells, use_entry=False)
    assert (shape, scale / 1_000.0) == pytest.approx((3.65039115, 69.0527799), rel=1e-5)


def test_delayed_entry_with_a_known_shape_is_the_closed_form():
    """Lawless 2003, sections 2.4 and 3.5: with the shape known to be 2, scale² = Σ(end² - entry²) / failures."""
    entries, ends, events = (10, 20, 0, 35, 15), (40, 55, 30, 60, 50), (1, 0, 1, 1, 1)
    parts = [
        part(
            f"car {n}",
            1_000.0 * end,
            entry_km=1_000.0 * entry,
            reason="failed, confirmed" if failed else "preventive",
        )
        for n, (entry, end, failed) in enumerate(zip(entries, ends, events, strict=True))
    ]
    spells = spells_from(parts, ["distance"], TODAY).spells
    scale = np.sqrt(np.sum(spells.km.lower**2 - spells.km.entry**2) / spells.exact.sum())
    assert scale / 1_000.0 == pytest.approx(49.1807889, rel=1e-8)


def simulated_suspicions(count=400, seed=20_260_101):
    """True life Weibull (shape 2.5, scale 60,000 km); a third of the parts is renewed on suspicion at a random distance while
    still good, and the fault stays, because it was another part's."""
    random = np.random.default_rng(seed)
    life = 60_000.0 * random.weibull(2.5, count)
    suspected = random.uniform(5_000.0, 180_000.0, count)
    return [
        part(
            f"p{n}",
            round(min(t, s)),
            reason="on suspicion" if s < t else "failed, confirmed",
            cured=False if s < t else None,
        )
        for n, (t, s) in enumerate(zip(life, suspected, strict=True))
    ]


def test_not_cured_renewals_are_good_parts_and_counting_them_as_failures_shortens_life():
    parts = simulated_suspicions()
    spells = spells_from(parts, ["distance"], TODAY).spells
    share = spells.censored.mean()
    assert 0.2 < share < 0.45
    shape, scale = weibull(spells)
    assert (shape, scale) == pytest.approx((2.5, 60_000.0), rel=0.1)
    as_failures = [
        PartHistory(
            p.vehicle,
            p.fitment,
            removal=p.removal.model_copy(update={"reason": "failed, confirmed"}),
            track=p.track,
        )
        for p in parts
    ]
    wrong_shape, wrong_scale = weibull(spells_from(as_failures, ["distance"], TODAY).spells)
    assert wrong_scale < 0.88 * scale
    assert wrong_shape < 0.9 * shape


def test_dating_an_unknown_fitting_to_the_purchase_would_shorten_life():
    """The planner leaves such parts out rather than do so; here is what it would cost."""
    random = np.random.default_rng(7)
    right, wrong = [], []
    while len(right) < 300:
        life, entry = 60_000.0 * random.weibull(2.5), random.uniform(0.0, 60_000.0)
        if life <= entry + 200.0:
            continue
        right.append(part(f"p{len(right)}", round(life), entry_km=round(entry)))
        wrong.append(part(f"p{len(wrong)}", round(life) - round(entry)))
    scale = weibull(spells_from(right, ["distance"], TODAY).spells)[1]
    assert scale == pytest.approx(60_000.0, rel=0.08)
    assert weibull(spells_from(wrong, ["distance"], TODAY).spells)[1] < 0.7 * scale


def test_published_ball_bearing_lives_come_through_the_records_unchanged():
    """Lieblein & Zelen 1956 (23 bearings, millions of revolutions; 48.48 as the standard printing has it), read as 1,000 km:
    maximum likelihood shape 2.102, scale 81.88 as commonly published."""
    lives = (17.88, 28.92, 33.00, 41.52, 42.12, 45.60, 48.48, 51.84, 51.96, 54.12, 55.56, 67.80, 68.64, 68.64, 68.88, 84.12,
             93.12, 98.64, 105.12, 105.84, 127.92, 128.04, 173.40)  # fmt: skip
    spells = spells_from(
        [part(f"b{n}", 1_000.0 * t) for n, t in enumerate(lives)], ["distance"], TODAY
    ).spells
    shape, scale = weibull(spells)
    assert (round(shape, 3), round(scale / 1_000.0, 2)) == (2.102, 81.88)


def test_counting_a_part_in_service_until_today_would_lengthen_its_life():
    fitment = Fitment(ref="p", kind="x", fitted_on=FITTED, odometer={"value": 0, "unit": "km"})
    last = TODAY - timedelta(days=1_461)
    track = OdometerTrack.from_km([FITTED, last], [0.0, 22_000.0])
    spells = spells_from(
        [PartHistory(Vehicle(ref="v", name="v"), fitment, track=track)], ["age"], TODAY
    ).spells
    assert spells.years.lower[0] == pytest.approx((last - FITTED).days / 365.25)
