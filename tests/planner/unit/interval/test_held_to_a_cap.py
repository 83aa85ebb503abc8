"""A part's own limit cuts the interval, in numbers and in words, and words never round a limit up."""

import numpy as np
import pytest

from planner import Cap, Costs, best_interval, known_life
from planner.interval.held import held_columns, held_to
from planner.interval.tables import interval_table
from planner.interval.wording import limit_in_words, reason_in_words, rounded

LIFE = known_life(distance=(3, 90_000), age=(2, 15))
COSTS = Costs(planned=40, failure=400)
TABLE = interval_table(LIFE, COSTS)


@pytest.mark.parametrize("cap", [Cap(years=2), Cap(km=12_345), Cap(km=9_000, years=1.5)])
def test_the_interval_stops_at_the_cap_and_says_that_it_decides(cap):
    free = TABLE.at(8_000)
    held = held_to(free, cap, planned=COSTS.planned)
    direct = best_interval(LIFE, COSTS, km_per_year=8_000, cap=cap)
    assert held.years == pytest.approx(direct.years, rel=1e-12)
    assert held.km == pytest.approx(direct.km, rel=1e-12)
    assert held.bound_by == direct.bound_by == "cap"
    assert held.within_5_percent[1] <= held.years < free.years
    assert held.cost_per_year == pytest.approx(direct.cost_per_year, rel=0.2)
    assert "nothing lengthens it" in reason_in_words(held, LIFE.clocks).reason


def test_a_cap_beyond_the_interval_changes_nothing():
    free = TABLE.at(8_000)
    assert held_to(free, Cap(km=200_000, years=30), planned=COSTS.planned) is free


def test_a_part_run_to_failure_still_has_its_limit():
    table = interval_table(LIFE, Costs(planned=40, failure=40))
    assert table.at(8_000).run_to_failure
    held = held_to(table.at(8_000), Cap(years=10), planned=40)
    assert (held.years, held.km, held.run_to_failure, held.bound_by) == (10, 80_000, False, "cap")


def test_columns_hold_as_single_intervals_do():
    rates = np.array([0.0, 900.0, 8_000.0, 30_000.0])
    caps = [Cap(years=3), Cap(km=5_000), Cap(), Cap(km=20_000, years=2)]
    km = np.array([np.inf if c.km is None else c.km for c in caps])
    years = np.array([np.inf if c.years is None else c.years for c in caps])
    columns = held_columns(TABLE.columns(rates), rates, cap_km=km, cap_years=years, planned=40.0)
    for place, (rate, cap) in enumerate(zip(rates, caps, strict=True)):
        one = held_to(TABLE.at(rate), cap, planned=40.0)
        assert columns.years[place] == pytest.approx(one.years, rel=1e-12)
        assert columns.cost_per_year[place] == pytest.approx(one.cost_per_year, rel=1e-12)
        assert (columns.bound_by[place] == 2) == (one.bound_by == "cap")


@pytest.mark.parametrize(
    ("years", "words"),
    [
        (2.9, "2 years and 10 months"),
        (2.0, "2 years and 0 months"),
        (0.05, "2 weeks"),
        (1.99, "23 months"),
        (1e-6, "0 days"),
    ],
)
def test_a_limit_in_years_is_never_rounded_up(years, words):
    assert limit_in_words(years) == words.replace(" and 0 months", "")


def test_a_limit_in_distance_is_never_rounded_up():
    assert rounded(19_700, down=True) == "19,000"
    assert rounded(19_000, down=True) == "19,000"
    assert rounded(19_700) == "20,000"


def test_the_sentence_of_a_capped_interval_stays_within_the_cap():
    reason = best_interval(LIFE, COSTS, km_per_year=8_000, cap=Cap(km=19_700)).reason
    assert "19,000 km" in reason
    assert "20,000" not in reason
