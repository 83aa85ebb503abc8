"""Odometers made true: rollover, replaced instruments, miles beside km; falls that nothing explains are refused."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from planner.errors import RecordError
from planner.history.odometer import OdometerTrack, instrument_bounds
from planner.history.records import Distance, OdometerReading

D = date.fromisoformat


def reading(day, value, unit="km", **more):
    return OdometerReading(read_on=day, reading={"value": value, "unit": unit}, **more)


def track(*readings):
    return OdometerTrack.from_readings(readings)


def test_a_five_digit_dial_that_passed_its_end_goes_on_counting():
    made = track(
        reading("1995-01-01", 95_000, dial_digits=5),
        reading("1997-01-01", 3_000, dial_digits=5),
        reading("2005-01-01", 99_000, dial_digits=5),
        reading("2007-01-01", 1_000, dial_digits=5),
    )
    assert made.km.tolist() == [95_000, 103_000, 199_000, 201_000]
    assert sum("passed its end" in note for note in made.notes) == 2


def test_a_rollover_in_miles_is_a_hundred_thousand_miles():
    made = track(reading("1995-01-01", 99_000, "mi"), reading("1996-01-01", 1_000, "mi"))
    assert np.diff(made.km)[0] == pytest.approx(2_000 * 1.609344, abs=1e-6)


def test_counted_rollovers_are_taken_as_counted():
    made = track(reading("1995-01-01", 40_000, rollovers=1), reading("2015-01-01", 30_000, rollovers=2))
    assert made.km.tolist() == [140_000, 230_000]


def test_a_slip_of_the_pen_is_no_rollover():
    with pytest.raises(RecordError) as refused:
        track(reading("2020-01-01", 52_000), reading("2021-01-01", 51_000))
    assert refused.value.field == "readings[1].reading"
    assert "52,000 km on 2020-01-01" in refused.value.wanted
    assert "a new instrument" in refused.value.wanted
    assert "passed its end" in refused.value.wanted
    assert "51,000 km on 2021-01-01" in refused.value.got


def test_a_rollover_against_the_cars_own_pace_is_refused_unless_the_dial_was_counted():
    slow = [("2000-01-01", 50_000), ("2010-01-01", 60_000)]
    with pytest.raises(RecordError):
        track(*(reading(*each) for each in slow), reading("2014-01-01", 59_000))
    made = track(
        *(reading(*each, dial_digits=5) for each in slow), reading("2014-01-01", 59_000, dial_digits=5)
    )
    assert made.km[-1] == 159_000


def test_an_uncounted_dial_that_went_nearly_all_the_way_round_is_asked_for():
    far_apart = ("1990-01-01", 60_000), ("2000-01-01", 59_000)
    with pytest.raises(RecordError):
        track(*(reading(*each) for each in far_apart))
    assert track(*(reading(*each, dial_digits=5) for each in far_apart)).km[-1] == 159_000


def test_a_six_digit_dial_does_not_roll_over_at_a_hundred_thousand():
    with pytest.raises(RecordError):
        track(reading("2000-01-01", 99_000, dial_digits=6), reading("2001-01-01", 2_000, dial_digits=6))


def test_the_field_counts_readings_in_the_order_given():
    with pytest.raises(RecordError) as refused:
        track(reading("2021-01-01", 51_000), reading("2020-01-01", 52_000))
    assert refused.value.field == "readings[0].reading"


def test_a_new_instrument_goes_on_from_the_old_one_at_the_cars_pace():
    made = track(
        reading("2000-01-01", 50_000),
        reading("2004-01-01", 58_000),
        reading("2006-01-01", 10, new_instrument=True),
        reading("2008-01-01", 4_010),
    )
    assert made.km[2] == pytest.approx(62_000, abs=10)
    assert made.km[3] - made.km[2] == 4_000
    assert made.points[2].gap_km == made.points[3].gap_km == pytest.approx(4_000, abs=10)
    assert made.points[1].gap_km == 0
    assert any("new instrument" in note for note in made.notes)


def test_old_and_new_instrument_read_on_the_same_day_leave_no_gap():
    made = track(
        reading("2000-01-01", 50_000),
        reading("2004-01-01", 58_000),
        reading("2004-01-01", 0, new_instrument=True),
        reading("2005-01-01", 1_500),
    )
    assert made.km.tolist() == [50_000, 58_000, 58_000, 59_500]
    assert made.points[-1].gap_km == 0


def test_a_figure_off_the_old_dial_on_the_day_of_the_new_one_may_come_in_any_order():
    made = OdometerTrack.from_readings(
        [
            reading("2000-01-01", 50_000),
            reading("2004-01-01", 0, new_instrument=True),
            reading("2004-01-01", 40),
            reading("2005-01-01", 1_500),
        ],
        extra=[reading("2004-01-01", 58_000)],
    )
    assert made.km.tolist() == [50_000, 58_000, 58_000, 58_040, 59_500]


def test_readings_of_one_day_are_taken_by_rising_figure():
    made = track(reading("2000-06-01", 50_400), reading("2000-06-01", 50_000), reading("2001-06-01", 52_000))
    assert made.km.tolist() == [50_000, 50_400, 52_000]
    assert made.km_on(D("2000-06-01")) == 50_400


def test_a_figure_stated_not_actual_is_named_and_not_used():
    made = track(reading("2000-01-01", 10_000, statement="not actual"), reading("2001-01-01", 90_000))
    assert made.km.tolist() == [90_000]
    assert "not actual" in made.notes[0]


def test_a_pace_that_no_car_keeps_is_noted():
    made = track(reading("2000-01-01", 12_345), reading("2000-06-01", 123_456))
    assert "more than a car is driven" in made.notes[0]


def test_between_readings_the_distance_lies_between_them():
    made = track(reading("2000-01-01", 10_000), reading("2010-01-01", 20_000))
    low, likely, high = made.bounds_on(D("2005-01-01"))
    assert 10_000 <= low < likely < high <= 20_000
    assert likely == pytest.approx(15_000, abs=5)
    assert made.bounds_on(D("2010-01-01")) == (20_000, 20_000, 20_000)


def test_outside_the_readings_the_cars_pace_goes_on_and_never_below_zero():
    made = track(reading("2000-01-01", 1_000), reading("2010-01-01", 21_000))
    assert made.km_on(D("2012-01-01")) == pytest.approx(25_000, abs=10)
    assert made.bounds_on(D("1990-01-01"))[:2] == (0.0, 0.0)


def test_one_reading_goes_on_at_the_pace_of_such_cars():
    made = track(reading("2000-01-01", 50_000))
    assert made.pace is None
    assert made.km_on(D("2001-01-01")) == pytest.approx(51_400, abs=5)


@pytest.mark.parametrize(
    ("day", "value", "true"),
    [("2001-01-01", 51_000, 51_000), ("1999-01-01", 49_000, 49_000), ("2003-01-01", 101, 52_601), ("2001-01-01", 40_000, None)],
)  # fmt: skip
def test_figures_off_the_dial_are_read_on_the_instrument_of_their_day(day, value, true):
    made = track(
        reading("2000-01-01", 50_000),
        reading("2002-06-01", 52_500),
        reading("2002-06-01", 0, new_instrument=True),
        reading("2005-01-01", 2_500),
    )
    found = made.true_km(D(day), Distance(value=value, unit="km"))
    assert found == (None if true is None else pytest.approx(true, abs=1))


def test_a_figure_after_the_last_reading_may_have_rolled_over():
    made = track(reading("1990-01-01", 80_000), reading("1994-01-01", 98_000))
    assert made.true_km(D("1995-01-01"), Distance(value=2_000, unit="km")) == 102_000
    assert made.true_km(D("1995-01-01"), Distance(value=97_000, unit="km")) is None


@pytest.mark.parametrize(
    ("days", "km", "field"),
    [
        (["2000-01-01"], [float("nan")], "km"),
        (["2000-01-01", "2001-01-01"], [5.0, 4.0], "km"),
        (["2001-01-01", "2000-01-01"], [4.0, 5.0], "days"),
        (["2001-01-01"], [4.0, 5.0], "km"),
        ([], [], "km"),
        (["2001-01-01"], [-4.0], "km"),
    ],
)
def test_true_distances_are_checked_too(days, km, field):
    with pytest.raises(RecordError) as refused:
        OdometerTrack.from_km([D(day) for day in days], km)
    assert refused.value.field == field


def test_no_reading_makes_no_track():
    with pytest.raises(RecordError, match="readings"):
        OdometerTrack.from_readings([])


def test_the_track_as_known_on_a_day_holds_no_later_reading():
    made = track(reading("2000-01-01", 10_000), reading("2010-01-01", 20_000))
    assert made.until(D("2005-01-01")).km.tolist() == [10_000]
    assert made.until(D("1999-01-01")) is None


def test_period_odometers_may_be_wrong_by_a_twentieth():
    assert instrument_bounds(100_000) == (95_000, 105_000)


def test_a_figure_that_no_car_can_have_reached_is_refused_with_both_figures():
    readings = [
        OdometerReading(read_on=date(2026, 3, 1), reading=Distance(value=1_000, unit="mi")),
        OdometerReading(read_on=date(2026, 3, 2), reading=Distance(value=2_900_000, unit="mi")),
    ]
    with pytest.raises(RecordError, match="no car goes further") as refused:
        OdometerTrack.from_readings(readings)
    assert refused.value.field == "readings[1].reading"
    assert "1,000 mi on 2026-03-01" in refused.value.wanted
    assert "2,900,000 mi" in refused.value.got
