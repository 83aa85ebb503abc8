"""How much a repair helps: q against its likelihood worked out directly, on simulated truth, and from records."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from planner import ClockPrior, LifePrior, Spells, fit_life
from planner.errors import InputError, PriorError, SpellError
from planner.history.part_history import PartHistory
from planner.history.records import Fitment, Removal, Repair, Vehicle
from planner.life.repair import ShareLeft, repair_effect, share_left

INF = np.inf
SHAPE, SCALE = 3.0, 10.0


def _prior(spread):
    p10, p50 = (SCALE * (-np.log1p(-p)) ** (1 / SHAPE) for p in (0.1, 0.5))
    return LifePrior(age=ClockPrior(p10, p50, spread_scale=spread, spread_shape=spread))


WEAK = _prior(0.5)


def _careers(true_q, count, seed, every=2.0):
    """Parts cleaned every two years until they fail: gaps between events, the last one a failure."""
    random = np.random.default_rng(seed)
    careers = []
    for _ in range(count):
        virtual, gaps = 0.0, []
        while True:
            hazard = (virtual / SCALE) ** SHAPE + random.exponential()
            gap = SCALE * hazard ** (1 / SHAPE) - virtual
            gaps.append(min(gap, every))
            if gap < every:
                break
            virtual = true_q * (virtual + every)
        careers.append(gaps)
    return careers


def _spells_at(careers):
    def spells_at(q):
        rows = []
        for gaps in careers:
            virtual = 0.0
            for k, gap in enumerate(gaps):
                end = virtual + gap
                rows.append((virtual, end, end if k == len(gaps) - 1 else INF))
                virtual = q * end
        entry, lower, upper = np.array(rows).T
        return Spells.on_age(lower, upper, entry)

    return spells_at


def test_with_the_life_known_it_is_the_likelihood_itself():
    careers = _careers(0.7, 25, seed=1)
    found = share_left(_spells_at(careers), _prior(1e-4), expected=(1, 1))

    def log_likelihood(q):
        total = 0.0
        for gaps in careers:
            v = 0.0
            for k, gap in enumerate(gaps):
                total -= ((v + gap) / SCALE) ** SHAPE - (v / SCALE) ** SHAPE
                if k == len(gaps) - 1:
                    total += np.log(SHAPE / SCALE * ((v + gap) / SCALE) ** (SHAPE - 1))
                v = q * (v + gap)
        return total

    brute = np.exp([log_likelihood(q) - log_likelihood(0.7) for q in found.left])
    assert found.mass == pytest.approx(brute / brute.sum(), rel=2e-3, abs=1e-6)


@pytest.mark.parametrize("true_q", [0.3, 0.95])
def test_simulated_share_is_found(true_q):
    found = share_left(_spells_at(_careers(true_q, 150, seed=7)), WEAK)
    low, high = found.limits(0.98)
    assert low < true_q < high
    assert high - low < 0.5


def test_cleaning_worn_contacts_again_and_again_does_not_make_them_new():
    # Common practice, no source: it buys little.
    careers = _careers(0.95, 150, seed=3)
    found = share_left(_spells_at(careers), WEAK)
    assert found.limits(0.9)[0] > 0.7
    assert found.words.startswith("helps little")
    as_new = fit_life(_spells_at(careers)(0.0), WEAK)
    assert as_new.age.shape < 0.7 * SHAPE, "taken for new after each cleaning, worn parts hide their wear"


def test_little_data_leaves_the_prior():
    found = share_left(_spells_at([[1.0]]), WEAK)
    assert found.mean == pytest.approx(
        2.0 / 3.35, abs=0.01
    )  # the Beta prior's mean a/(a + b): nothing was ever cleaned


def _history(number, gaps):
    days = [date(1970, 1, 1) + timedelta(days=round(365.25 * t)) for t in np.cumsum([0.0, *gaps])]
    return PartHistory(
        Vehicle(ref=f"car{number}", name="car"),
        Fitment(ref=f"part{number}", kind="contact_points", fitted_on=days[0].isoformat()),
        (),
        tuple(Repair(repaired_on=day, action="cleaned") for day in days[1:-1]),
        Removal(removed_on=days[-1].isoformat(), reason="failed, confirmed"),
    )


def test_records_give_the_same_as_the_clocks():
    careers = _careers(0.8, 30, seed=5)
    histories = [_history(i, gaps) for i, gaps in enumerate(careers)]
    found = repair_effect(histories, "cleaned", "age", WEAK, date(2020, 1, 1))
    assert found.mean == pytest.approx(share_left(_spells_at(careers), WEAK).mean, abs=0.01)
    other = repair_effect(histories, "cleaned", "age", WEAK, date(2020, 1, 1), form="I")
    assert np.isfinite(other.log_evidence)
    assert other.log_evidence != found.log_evidence


def test_refusals():
    history = [_history(0, [1.0, 2.0])]
    with pytest.raises(SpellError):
        repair_effect(history, "dressed", "age", WEAK, date(2020, 1, 1))
    with pytest.raises(InputError) as refused:
        repair_effect(history, "cleaned", "distance", WEAK, date(2020, 1, 1))
    assert refused.value.field == "clock"
    with pytest.raises(PriorError):
        share_left(_spells_at([[1.0]]), WEAK, expected=(0, 1))
    with pytest.raises(InputError):
        ShareLeft(np.array([0.25, 0.75]), np.array([0.5, 0.5]), 0.0).limits(1.0)
