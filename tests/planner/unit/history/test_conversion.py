"""Each line of a car's papers becomes the spell that the evidence table says, and nothing is left out in silence."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from planner.errors import RecordError
from planner.history.conversion import spells_from
from planner.history.odometer import OdometerTrack
from planner.history.part_history import PartHistory
from planner.history.records import Fitment, Inspection, OdometerReading, Removal, Repair, Vehicle

TODAY = date(2026, 1, 1)
BOTH = ("distance", "age")
KM = "km"
OWNED_FROM_NEW = Vehicle(ref="v", name="from new", built="1990")
BOUGHT = Vehicle(ref="v", name="bought", built="1971", joined_on="2010-01-01")
TRACK = OdometerTrack.from_readings(
    OdometerReading(read_on=f"{year}-01-01", reading={"value": 2_000 * (year - 1990), "unit": KM})
    for year in range(2000, 2025, 2)
)


def km(value, unit=KM):
    return {"value": value, "unit": unit}


def fitted(day="2002-01-01", **more):
    return Fitment(ref="part", kind="distributor_cap", fitted_on=day, **more)


def history(fitment=None, *looks, removal=None, vehicle=OWNED_FROM_NEW, track=TRACK):
    return PartHistory(
        vehicle,
        fitment or fitted(),
        tuple(look for look in looks if isinstance(look, Inspection)),
        tuple(look for look in looks if isinstance(look, Repair)),
        None if removal is None else Removal(**removal),
        track,
    )


def look(day, finding="good", **more):
    return Inspection(inspected_on=day, finding=finding, **more)


def rows(*histories, clocks=BOTH):
    """(km entry, lower, upper, years entry, lower, upper, weight) of each row, rounded."""
    result = spells_from(histories, clocks, TODAY)
    assert not result.left_out, result.left_out
    spells = result.spells
    columns = [c for bounds in spells.bounds for c in (bounds.entry, bounds.lower, bounds.upper)]
    return [tuple(round(float(x), 2) for x in row) for row in zip(*columns, spells.weight, strict=True)]


def test_failed_in_use_and_confirmed_is_exact():
    out = {"removed_on": "2010-01-01", "odometer": km(40_500), "reason": "failed, confirmed"}
    assert rows(history(removal=out, track=None, fitment=fitted(odometer=km(24_100)))) == [
        (0, 16_400, 16_400, 0, 8.0, 8.0, 1)
    ]


def test_written_figures_stay_exact_to_the_last_digit():
    out = {"removed_on": "2010-06-17", "odometer": km(40_500.3), "reason": "failed, confirmed"}
    spells = spells_from([history(fitted(odometer=km(24_100.1)), removal=out)], ["distance"], TODAY).spells
    assert spells.km.upper[0] == 40_500.3 - 24_100.1
    assert spells.exact[0]


def test_a_part_in_service_is_good_until_it_was_last_seen_and_not_until_today():
    assert rows(history()) == [
        (0, 44_000, np.inf, 0, 22.0, np.inf, 1)
    ]  # last reading 2024-01-01, today 2026-01-01
    seen = history(fitted(), look("2025-07-01"))
    assert rows(seen, clocks=["age"]) == [(0, 23.5, np.inf, 1)]


def test_renewed_in_good_time_is_good_at_its_removal():
    for reason in (
        "preventive",
        "while there",
        "recall",
        "upgrade",
        "accident",
        "theft",
        "sold",
        "damaged by another part",
    ):
        out = {"removed_on": "2010-01-01", "reason": reason}
        result = spells_from([history(removal=out)], BOTH, TODAY)
        assert result.spells.censored.tolist() == [True]
        assert result.spells.years.lower[0] == pytest.approx(8.0, abs=0.01)
        assert result.rows[0].cause == reason


def test_changed_on_suspicion_without_cure_was_good():
    out = {"removed_on": "2010-01-01", "reason": "on suspicion", "cured": False}
    assert rows(history(removal=out)) == [(0, 16_000, np.inf, 0, 8.0, np.inf, 1)]


def test_changed_on_suspicion_and_cured_is_two_rows_with_one_entry():
    out = {"removed_on": "2012-01-01", "reason": "on suspicion", "cured": True}
    assert rows(history(removal=out, vehicle=BOUGHT)) == [
        (16_000, 20_000, 20_000, 8.0, 10.0, 10.0, 0.75),
        (16_000, 20_000, np.inf, 8.0, 10.0, np.inf, 0.25),
    ]


def test_one_of_four_changed_together_bears_a_quarter_of_the_shared_cure():
    out = {"removed_on": "2012-01-01", "reason": "on suspicion", "cured": True, "changed_together": 4}
    assert [row[-1] for row in rows(history(removal=out))] == [0.2, 0.8]


@pytest.mark.parametrize("reason", ["worn to limit", "looked worn"])
def test_worn_parts_passed_their_limit_since_the_last_good_look(reason):
    out = {"removed_on": "2012-01-01", "reason": reason}
    assert rows(history(fitted(), look("2008-01-01"), removal=out)) == [(0, 12_000, 20_000, 0, 6.0, 10.0, 1)]
    assert rows(history(removal=out)) == [(0, 0, 20_000, 0, 0, 10.0, 1)]  # never looked at before


def test_renewed_on_schedule_after_it_was_found_near_its_limit_is_no_plain_still_good():
    out = {"removed_on": "2012-01-01", "reason": "preventive"}
    near = history(fitted(), look("2010-01-01", "near limit"), removal=out)
    assert rows(near) == [(0, 16_000, 20_000, 0, 8.0, 10.0, 1)]


def test_found_bad_at_an_inspection_is_an_interval_before_any_removal():
    found = history(fitted(), look("2008-01-01"), look("2012-01-01", "worn to limit"))
    assert rows(found) == [(0, 12_000, 20_000, 0, 6.0, 10.0, 1)]


def test_a_later_removal_adds_nothing_to_a_part_already_found_bad():
    out = {"removed_on": "2016-01-01", "reason": "preventive"}
    found = history(fitted(), look("2012-01-01", "failed"), removal=out)
    assert rows(found) == [(0, 0, 20_000, 0, 0, 10.0, 1)]


def test_found_dead_after_standing_aged_without_moving():
    out = {"removed_on": "2013-03-01", "odometer": km(44_000), "reason": "found dead after standing"}
    flat = OdometerTrack.from_km([date(2010, 1, 1), date(2012, 10, 1)], [40_000, 44_000])
    dead = history(fitted(odometer=km(24_000)), removal=out, track=flat)
    assert rows(dead) == [(0, 20_000, 20_000, 0, 10.75, 11.16, 1)]
    assert rows(dead, clocks=["age"]) == [(0, 10.75, 11.16, 1)]


def test_bought_with_the_part_in_it_counts_from_the_purchase():
    assert rows(history(vehicle=BOUGHT)) == [(16_000, 44_000, np.inf, 8.0, 22.0, np.inf, 1)]


def test_an_earlier_owners_complete_file_moves_the_entry_back():
    file = Vehicle(ref="v", name="x", joined_on="2010-01-01", records_from="2004-01-01")
    assert rows(history(vehicle=file))[0][:2] == (4_000, 44_000)


def test_a_part_gone_before_the_records_begin_gives_no_row_and_says_so():
    out = {"removed_on": "2008-01-01", "reason": "failed, confirmed"}
    result = spells_from([history(removal=out, vehicle=BOUGHT)], BOTH, TODAY)
    assert result.spells is None
    assert "before the records" in result.left_out[0].reason


def test_an_unknown_fitting_day_is_never_the_purchase():
    unknown = Fitment(ref="part", kind="distributor_cap")
    result = spells_from([history(unknown, vehicle=BOUGHT)], ["age"], TODAY)
    assert result.spells is None
    assert result.left_out[0].ref == "part"
    assert "known only within" in result.left_out[0].reason


def test_a_figure_at_fitting_dates_an_unknown_fitting():
    undated = Fitment(ref="part", kind="distributor_cap", odometer=km(23_000))
    assert rows(history(undated)) == [
        (0, 45_000, np.inf, 0, 23.0, np.inf, 1)
    ]  # the readings of 2000 and 2002


def test_about_1998_counts_at_its_likely_day():
    assert rows(history(fitted("2001~")), clocks=["age"]) == [(0, 22.5, np.inf, 1)]


def test_how_rough_is_too_rough_does_not_depend_on_the_life_reached():
    short = {"removed_on": "2004-01-01", "reason": "failed, confirmed"}
    long = {"removed_on": "2024-01-01", "reason": "failed, confirmed"}
    for out in (short, long):
        assert spells_from([history(fitted("2001~"), removal=out)], ["age"], TODAY).spells is not None
        assert spells_from([history(fitted("199X"), removal=out)], ["age"], TODAY).spells is None


def test_cleaning_keeps_the_part_as_old_as_it_was():
    cleaned = history(fitted(), Repair(repaired_on="2010-01-01", action="cleaned"))
    assert rows(cleaned) == rows(history())


def test_repaired_after_it_failed_it_goes_on_at_its_age():
    mended = history(
        fitted(), look("2008-01-01", "failed"), Repair(repaired_on="2010-01-01", action="repaired")
    )
    assert rows(mended) == [
        (0, 0, 12_000, 0, 0, 6.0, 1),
        (16_000, 44_000, np.inf, 8.0, 22.0, np.inf, 1),
    ]


def test_a_second_hand_part_brings_its_donors_clocks():
    used = fitted(condition="second-hand", donor_km=30_000, donor_years=12)
    assert rows(history(used)) == [(30_000, 74_000, np.inf, 12.0, 34.0, np.inf, 1)]
    result = spells_from([history(fitted(condition="second-hand", donor_years=12))], BOTH, TODAY)
    assert "donor" in result.left_out[0].reason


def test_new_old_stock_has_aged_since_it_was_made():
    shelf = fitted(condition="new old stock", made_on="1992-01-01")
    assert rows(history(shelf)) == [(0, 44_000, np.inf, 10.0, 32.0, np.inf, 1)]


def test_bad_from_new_is_kept_apart_from_wear():
    out = {"removed_on": "2002-01-03", "odometer": km(24_020), "reason": "failed, confirmed"}
    result = spells_from([history(fitted(odometer=km(24_000)), removal=out, track=None)], BOTH, TODAY)
    assert result.spells is None
    assert "bad from new" in result.left_out[0].reason


def test_a_failure_far_on_within_one_day_is_worn_and_not_bad_from_new():
    out = {"removed_on": "2002-01-01", "odometer": km(30_700), "reason": "failed, confirmed"}
    far = history(fitted(odometer=km(24_000)), removal=out, track=None)
    assert rows(far, clocks=["distance"]) == [(0, 6_700, 6_700, 1)]


def test_the_rate_at_failure_is_the_cars_where_it_stands():
    slow_then_fast = OdometerTrack.from_km(
        [date(2000, 1, 1), date(2008, 1, 1), date(2010, 1, 1)], [10_000, 14_000, 34_000]
    )
    out = {"removed_on": "2010-01-01", "reason": "failed, confirmed"}
    result = spells_from([history(removal=out, track=slow_then_fast)], BOTH, TODAY)
    assert result.spells.km_per_year[0] == pytest.approx(10_000, rel=0.01)


def test_miles_and_rollovers_between_the_figures_are_seen_through():
    turned = OdometerTrack.from_readings(
        OdometerReading(read_on=day, reading=km(value, "mi"))
        for day, value in (("1995-01-01", 96_000), ("1998-01-01", 2_000), ("2001-01-01", 8_000))
    )
    out = {"removed_on": "2001-01-01", "odometer": km(8_000, "mi"), "reason": "failed, confirmed"}
    part = history(fitted("1995-01-01", odometer=km(96_000, "mi")), removal=out, track=turned)
    assert rows(part, clocks=["distance"])[0][1] == pytest.approx(12_000 * 1.609344, abs=0.01)


@pytest.mark.parametrize(
    ("part", "field"),
    [
        (history(removal={"removed_on": "2001-01-01", "reason": "preventive"}), "removal.removed_on"),
        (history(fitted(), look("2001-01-01")), "inspections[0].inspected_on"),
        (history(fitted(), Repair(repaired_on="2001-05-01", action="cleaned")), "repairs[0].repaired_on"),
        (history(fitted(), look("2012-01-01"), removal={"removed_on": "2010-01-01", "reason": "worn to limit"}),
         "inspections[0].inspected_on"),
        (history(fitted(odometer=km(25_000)), track=None,
                 removal={"removed_on": "2010-01-01", "odometer": km(24_000), "reason": "sold"}), "removal.odometer"),
        (history(fitted(odometer=km(25_000)),
                 removal={"removed_on": "2002-06-01", "odometer": km(24_100), "reason": "sold"}), "removal.odometer"),
        (history(fitted(odometer=km(2_500))), "fitment.odometer"),
        (history(fitted(), look("2011-01-01", odometer=km(90_000))), "inspections[0].odometer"),
        (history(fitted("2027")), "fitment.fitted_on"),
        (history(fitted(), look("2026-01-02")), "inspections[0].inspected_on"),
        (history(removal={"removed_on": "2031", "reason": "sold"}), "removal.removed_on"),
        (history(fitted("1980")), "fitment.fitted_on"),
    ],
)  # fmt: skip
def test_contradictions_name_their_field(part, field):
    with pytest.raises(RecordError) as refused:
        spells_from([history(), part], BOTH, TODAY)
    assert refused.value.field == field


def test_a_contradiction_can_be_left_out_and_listed_instead():
    wrong = history(removal={"removed_on": "2001-01-01", "reason": "preventive"})
    result = spells_from([history(), wrong], BOTH, TODAY, contradictions="leave out")
    assert len(result.spells) == 1
    assert "removal.removed_on" in result.left_out[0].reason


@pytest.mark.parametrize("clocks", [(), ("hours",), "age", ("age", "hours")])
def test_unknown_clocks_are_refused(clocks):
    with pytest.raises(RecordError, match="clocks"):
        spells_from([history()], clocks, TODAY)


def test_no_histories_give_no_spells():
    assert spells_from([], BOTH, TODAY).spells is None


def test_each_row_can_be_traced_to_its_history():
    out = {"removed_on": "2012-01-01", "reason": "on suspicion", "cured": True}
    result = spells_from([history(), history(removal=out), history(removal=out)], BOTH, TODAY)
    assert [each.rows for each in result.rows] == [(0,), (1, 2), (3, 4)]
    assert [each.ending for each in result.rows] == ["still good", "failed in use", "failed in use"]
