"""Repairs in place: Kijima's virtual age sets a clock back by its share, and a cleaned part never counts as new by itself."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from planner.errors import RecordError
from planner.history.conversion import spells_from
from planner.history.odometer import OdometerTrack
from planner.history.part_history import PartHistory
from planner.history.records import Fitment, Inspection, Removal, Repair, Vehicle
from planner.history.virtual_age import VirtualAge

TODAY = date(2026, 1, 1)
BOTH = ("distance", "age")


def points(*repairs, removal="2012-01-01", looks=()):
    track = OdometerTrack.from_km([date(2000, 1, 1), date(2020, 1, 1)], [0, 40_000])
    return PartHistory(
        Vehicle(ref="v", name="v"),
        Fitment(ref="points", kind="contact_points", fitted_on="2000-01-01"),
        looks,
        tuple(Repair(repaired_on=day, action=action) for day, action in repairs),
        Removal(removed_on=removal, reason="failed, confirmed"),
        track,
    )


def years(history, **how):
    spells = spells_from([history], BOTH, TODAY, **how).spells
    bounds = spells.years
    return [tuple(np.round(row, 2)) for row in zip(bounds.entry, bounds.lower, bounds.upper, strict=True)]


TWICE = points(("2004-01-01", "dressed"), ("2008-01-01", "dressed"))
HALF = {("dressed", "age"): 0.5, ("dressed", "distance"): 0.5}


def test_type_two_leaves_a_share_of_all_the_age():
    assert years(TWICE, repairs=VirtualAge(HALF)) == [(0, 4, np.inf), (2, 6, np.inf), (3, 7, 7)]


def test_type_one_undoes_only_the_wear_since_the_last_repair():
    assert years(TWICE, repairs=VirtualAge(HALF, form="I")) == [(0, 4, np.inf), (2, 6, np.inf), (4, 8, 8)]


def test_as_new_is_said_and_not_assumed():
    assert years(TWICE, repairs=VirtualAge({("dressed", "age"): 0.0})) == [
        (0, 4, np.inf),
        (0, 4, np.inf),
        (0, 4, 4),
    ]
    assert years(TWICE) == [(0, 12, 12)]


def test_a_repair_sets_back_only_the_clock_it_works_on():
    result = spells_from([TWICE], BOTH, TODAY, repairs=VirtualAge({("dressed", "distance"): 0.0})).spells
    assert result.years.entry.tolist() == pytest.approx([0, 4, 8], abs=0.01)
    assert result.km.entry.tolist() == [0, 0, 0]


def test_other_actions_leave_the_clocks_alone():
    adjusted = points(("2004-01-01", "adjusted"))
    assert years(adjusted, repairs=VirtualAge(HALF)) == [(0, 4, np.inf), (4, 12, 12)]


def test_as_old_as_before_splits_the_life_without_changing_its_likelihood():
    whole = spells_from([TWICE], ("age",), TODAY).spells.years
    split = spells_from([TWICE], ("age",), TODAY, repairs=VirtualAge({("cleaned", "age"): 0.5})).spells.years
    for shape, scale in ((1.0, 5.0), (2.5, 12.0)):
        exposure = [np.sum((b.lower / scale) ** shape - (b.entry / scale) ** shape) for b in (whole, split)]
        assert exposure[0] == pytest.approx(exposure[1])


def test_mended_after_a_failure_it_goes_on_at_its_virtual_age():
    failed = points(
        ("2006-01-01", "repaired"), looks=(Inspection(inspected_on="2005-01-01", finding="failed"),)
    )
    assert years(failed, repairs=VirtualAge({("repaired", "age"): 0.5})) == [(0, 0, 5), (3, 9, 9)]


@pytest.mark.parametrize("share", [-0.1, 1.1, float("nan")])
def test_shares_outside_zero_to_one_are_refused(share):
    with pytest.raises(RecordError):
        VirtualAge({("cleaned", "age"): share})


def test_an_unknown_form_is_refused():
    with pytest.raises(RecordError, match="form"):
        VirtualAge(form="III")
