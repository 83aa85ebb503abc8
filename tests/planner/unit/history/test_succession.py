"""Parts without a removal in whose place another was fitted: taken as gone by that day, where nothing speaks against it."""

from datetime import date

import pytest

from planner import ClockPrior, LifePrior, backtest
from planner.history.conversion import spells_from
from planner.history.episodes import NEXT_FITTED
from planner.history.odometer import OdometerTrack
from planner.history.part_history import PartHistory
from planner.history.records import Fitment, Inspection, Removal, Vehicle

TODAY = date(2024, 1, 1)
TRACK = OdometerTrack.from_km(
    [date(year, 1, 1) for year in range(2000, 2025)], [10_000.0 * n for n in range(25)]
)
CAR = Vehicle(ref="v", name="v", joined_on=date(2000, 1, 1))


def part(ref, fitted, position=None, car=CAR, kind="brake_pads", **fields):
    fitment = Fitment(ref=ref, kind=kind, fitted_on=fitted, position=position)
    return PartHistory(car, fitment, track=TRACK, **fields)


def years(*histories):
    found = spells_from(histories, ("distance", "age"), TODAY)
    assert found.spells.censored.all()
    return {row.ref: (row.cause, round(float(found.spells.years.lower[row.rows[0]]))) for row in found.rows}


def test_the_earlier_part_is_watched_until_the_next_was_fitted_and_says_so():
    first, second, third = part("a", "2004-01-01"), part("b", "2010-01-01"), part("c", "2020-01-01")
    assert years(third, first, second) == {
        "c": ("in service", 4),
        "a": (NEXT_FITTED, 6),
        "b": (NEXT_FITTED, 10),
    }
    spells = spells_from([first, second], ("distance",), TODAY).spells
    assert spells.km.lower[0] == pytest.approx(60_000, abs=50)


@pytest.mark.parametrize(
    "other",
    [
        part("b", "2010-01-01", "rear"),
        part("b", "2010-01-01", kind="brake_shoes"),
        part("b", "2010-01-01", car=Vehicle(ref="w", name="w")),
        part("b", "2004-01-01"),  # a set, fitted on one day
        part("b", "2000/2015"),  # nobody knows when
    ],
)
def test_another_place_or_an_unsure_order_ends_nothing(other):
    assert years(part("a", "2004-01-01"), other)["a"] == ("in service", 20)


def test_a_part_seen_later_is_still_there_and_a_removal_stands():
    looks = (Inspection(inspected_on="2012-01-01", finding="good"),)
    assert years(part("a", "2004-01-01", inspections=looks), part("b", "2010-01-01"))["a"][0] == "in service"
    gone = Removal(removed_on="2007-01-01", reason="preventive")
    assert years(part("a", "2004-01-01", removal=gone), part("b", "2010-01-01"))["a"] == ("preventive", 3)


def test_a_place_that_held_two_at_a_time_ends_nothing():
    a_set = [part(ref, day) for ref, day in (("a", "2004-01-01"), ("b", "2004-01-01"), ("c", "2010-01-01"))]
    assert {cause for cause, _ in years(*a_set).values()} == {"in service"}
    gone = Removal(removed_on="2012-01-01", reason="preventive")
    beside = part("b", "2006-01-01", removal=gone)
    assert years(part("a", "2004-01-01"), beside, part("c", "2010-01-01"))["a"] == ("in service", 20)


def test_a_part_that_came_with_the_car_is_taken_as_gone_too():
    assert years(part("a", None), part("b", "2010-01-01")).keys() == {"b"}  # its age cannot be told
    gone = spells_from([part("a", "2000-01-01"), part("b", "2010")], ("age",), TODAY).rows[0]
    assert gone.cause == NEXT_FITTED


def test_positions_are_the_same_however_they_are_typed():
    assert years(part("a", "2004-01-01", "Front  left"), part("b", "2010-01-01", "front left"))["a"][1] == 6


def test_looking_back_predicts_nothing_of_a_part_taken_as_gone():
    prior = LifePrior(age=ClockPrior(5.0, 10.0))
    both = [part("a", "2004-01-01"), part("b", "2010-01-01")]
    found = backtest(both, ("age",), TODAY, prior=prior, every="year")
    alone = backtest(both[:1], ("age",), TODAY, prior=prior, every="year")
    assert [line.parts for line in found.origins] == [1] * len(found.origins)
    assert len(alone.origins) == len(found.origins)
