"""Engines that move, figures that are rough, parts that were measured, complaints that several parts answered for."""

from __future__ import annotations

from datetime import date

import pytest

from planner.errors import RecordError
from planner.history.assemblies import Stay, follow
from planner.history.conversion import spells_from
from planner.history.measurements import measured_wear
from planner.history.odometer import OdometerTrack
from planner.history.part_history import PartHistory
from planner.history.records import Fitment, Inspection, OdometerReading, Removal, Repair, Vehicle
from planner.history.shared_events import Candidate, shared_events

TODAY = date(2026, 1, 1)
D = date.fromisoformat


def km(value, **more):
    return {"value": value, "unit": "km", **more}


def track(*points):
    return OdometerTrack.from_km([D(day) for day, _ in points], [at for _, at in points])


FIRST_CAR = track(("2000-01-01", 80_000), ("2010-01-01", 90_000))
SECOND_CAR = track(("2010-01-01", 20_000), ("2020-01-01", 40_000))


def test_an_engines_distance_goes_on_in_the_next_car():
    engine = follow([Stay(FIRST_CAR, D("2000-01-01"), D("2010-01-01")), Stay(SECOND_CAR, D("2012-01-01"))])
    assert engine.km_on(D("2010-01-01")) == 90_000
    assert engine.km_on(D("2011-06-01")) == pytest.approx(90_000)  # it stood
    assert engine.km_on(D("2020-01-01")) == pytest.approx(106_000, abs=10)


def test_a_parts_history_follows_the_engine_and_reads_each_cars_own_dial():
    engine = follow([Stay(FIRST_CAR, D("2000-01-01"), D("2010-01-01")), Stay(SECOND_CAR, D("2012-01-01"))])
    history = PartHistory(
        Vehicle(ref="e", name="engine"),
        Fitment(ref="cap", kind="distributor_cap", fitted_on="2005-01-01", odometer=km(85_000)),
        removal=Removal(removed_on="2018-01-01", odometer=km(36_000), reason="failed, confirmed"),
        track=engine,
    )
    spells = spells_from([history], ("distance", "age"), TODAY).spells
    assert spells.km.upper[0] == pytest.approx(5_000 + 12_000, abs=10)
    assert spells.years.upper[0] == pytest.approx(13, abs=0.01)


@pytest.mark.parametrize(
    ("records_from", "entry", "km_entry"),
    [
        ((None, None), 5.0, 5_000),  # fitted in 1995, watched since 2000
        ((D("2004-01-01"), None), 9.0, 9_000),
        (
            (None, D("2014-01-01")),
            19.0,
            23_000,
        ),  # what happened in its first four years there is not on record
    ],
)
def test_an_engine_is_watched_from_its_first_stay_whenever_the_next_car_joined(records_from, entry, km_entry):
    first = track(("1995-01-01", 75_000), ("2010-01-01", 90_000))
    stays = [
        Stay(first, D("1995-01-01"), D("2010-01-01"), records_from[0] or D("2000-01-01")),
        Stay(SECOND_CAR, D("2010-01-01"), records_from=records_from[1]),
    ]
    engine = follow(stays)
    history = PartHistory(
        Vehicle(ref="b", name="the second car", joined_on="2009-01-01"),
        Fitment(ref="cap", kind="distributor_cap", fitted_on="1995-01-01"),
        track=engine,
    )
    spells = spells_from([history], ("distance", "age"), TODAY).spells
    assert spells.years.entry[0] == pytest.approx(entry, abs=0.01)
    assert spells.km.entry[0] == pytest.approx(km_entry, abs=10)
    assert engine.until(D("2012-01-01")).watched_from == engine.watched_from


@pytest.mark.parametrize(
    ("stays", "field"),
    [
        ([], "stays"),
        ([Stay(FIRST_CAR, D("2005-01-01"), D("2004-01-01"))], "stays[0].until"),
        ([Stay(FIRST_CAR, D("2005-01-01")), Stay(SECOND_CAR, D("2012-01-01"))], "stays[0].until"),
        (
            [Stay(FIRST_CAR, D("2005-01-01"), D("2010-01-01")), Stay(SECOND_CAR, D("2009-01-01"))],
            "stays[1].since",
        ),
    ],
)
def test_stays_that_contradict_each_other_are_refused(stays, field):
    with pytest.raises(RecordError) as refused:
        follow(stays)
    assert refused.value.field == field


def reading(day, value, **more):
    return OdometerReading(read_on=day, reading=km(value, **more))


def test_a_rough_figure_gives_way_to_a_sure_one():
    late = OdometerTrack.from_readings(
        [reading("2000-01-01", 52_000), reading("2001-01-01", 51_800, plus_minus=500)]
    )
    assert late.km.tolist() == [52_000, 52_000]
    early = OdometerTrack.from_readings(
        [reading("2000-01-01", 52_000, plus_minus=500), reading("2001-01-01", 51_800)]
    )
    assert early.km.tolist() == [51_800, 51_800]
    with pytest.raises(RecordError):
        OdometerTrack.from_readings(
            [reading("2000-01-01", 52_000), reading("2001-01-01", 51_000, plus_minus=500)]
        )
    with pytest.raises(RecordError):
        OdometerTrack.from_readings(
            [
                reading("1999-01-01", 51_900),
                reading("2000-01-01", 52_000, plus_minus=500),
                reading("2001-01-01", 51_800),
            ]
        )


def worn(odometer, plus_minus=None):
    return PartHistory(
        Vehicle(ref="v", name="v"),
        Fitment(ref="p", kind="x", fitted_on="2012-01-01", odometer=km(odometer, plus_minus=plus_minus)),
        removal=Removal(removed_on="2018-01-01", odometer=km(36_000), reason="failed, confirmed"),
        track=SECOND_CAR,
    )


def test_a_rough_figure_at_fitting_counts_at_its_likely_value_until_too_rough():
    assert spells_from([worn(24_100, 300)], ("distance",), TODAY).spells.km.upper[0] == 11_900
    assert "known only within" in spells_from([worn(24_000, 8_000)], ("distance",), TODAY).left_out[0].reason


def test_a_rough_figure_off_the_track_leaves_the_word_to_the_track():
    assert spells_from([worn(19_800, 1_000)], ("distance",), TODAY).spells.km.upper[0] == pytest.approx(
        12_000, abs=10
    )
    with pytest.raises(RecordError, match=r"fitment\.odometer"):
        spells_from([worn(15_000, 1_000)], ("distance",), TODAY)


def measured(day, value, unit="mm", limit=2.0):
    return Inspection(
        inspected_on=day, finding="good", measurement={"value": value, "unit": unit, "limit": limit}
    )


def pads(*looks, repairs=()):
    return PartHistory(
        Vehicle(ref="v", name="v"),
        Fitment(ref="pads", kind="x", fitted_on="2010-01-01"),
        tuple(looks),
        tuple(repairs),
        None,
        SECOND_CAR,
    )


def test_measurements_stand_on_the_parts_own_clock():
    wear = measured_wear(pads(measured("2015-01-01", 9.0), measured("2012-01-01", 11.0)), "distance", TODAY)
    assert wear.at.tolist() == pytest.approx([4_000, 10_000], abs=5)
    assert wear.value.tolist() == [11.0, 9.0]
    assert (wear.unit, wear.limit, wear.set_at) == ("mm", 2.0, 0)
    assert wear.now == pytest.approx(20_000, abs=5)
    years = measured_wear(pads(measured("2015-01-01", 9.0)), "age", TODAY)
    assert years.at.tolist() == pytest.approx([5.0], abs=0.01)


def test_setting_the_gap_starts_the_path_anew():
    repairs = (
        Repair(repaired_on="2014-01-01", action="re-gapped"),
        Repair(repaired_on="2015-06-01", action="cleaned"),
    )
    wear = measured_wear(
        pads(
            measured("2012-01-01", 0.6),
            measured("2014-01-01", 0.8),
            measured("2016-01-01", 0.65),
            repairs=repairs,
        ),
        "distance",
        TODAY,
    )
    assert wear.value.tolist() == [0.65]
    assert wear.at.tolist() == pytest.approx([4_000], abs=5)
    assert wear.set_at == pytest.approx(8_000, abs=5)


def test_nothing_measured_is_no_path_and_two_units_are_refused():
    assert measured_wear(pads(), "distance", TODAY) is None
    with pytest.raises(RecordError) as refused:
        measured_wear(
            pads(measured("2012-01-01", 9.0), measured("2014-01-01", 0.3, unit="in")), "distance", TODAY
        )
    assert refused.value.field == "inspections[1].measurement.unit"


def changed(
    ref, *, kind="x", event="misfire", cured=True, car="v", reason="on suspicion", on="2018-01-01", together=2
):
    return PartHistory(
        Vehicle(ref=car, name=car),
        Fitment(ref=ref, kind=kind, fitted_on="2012-01-01"),
        removal=Removal(
            removed_on=on, reason=reason, cured=cured, changed_together=together, shared_event=event
        ),
        track=SECOND_CAR,
    )


def test_parts_renewed_against_one_complaint_are_gathered_with_how_well_each_fits():
    parts = [
        changed("cap", kind="distributor_cap"),
        changed("arm", kind="rotor_arm"),
        changed("coil", event=None),
    ]
    (event,) = shared_events(parts, {"misfire": {"cap": 3.0, "arm": 1.0}})
    assert event.candidates == (Candidate("cap", "distributor_cap", 3.0), Candidate("arm", "rotor_arm", 1.0))
    (unsaid,) = shared_events(parts, {"misfire": {"cap": 3.0}})
    assert [each.fit for each in unsaid.candidates] == [
        3.0,
        3.0,
    ]  # nothing said of one: as well as the others
    assert event.vehicle == "v"
    rows = spells_from([parts[0], parts[2]], ("age",), TODAY).rows
    assert [each.shared_event for each in rows] == ["misfire", None]


def test_parts_out_at_once_as_far_as_their_days_are_known_are_one_event():
    assert len(shared_events([changed("a"), changed("b", on="2018-01-04")])) == 1
    assert len(shared_events([changed("a"), changed("b", on="2018~", together=1)])) == 1


def test_no_cure_or_one_part_is_no_shared_event():
    assert shared_events([changed("a", cured=False), changed("b", cured=False)]) == ()
    assert shared_events([changed("a")]) == ()


@pytest.mark.parametrize(
    ("parts", "fit", "field"),
    [
        ([changed("a"), changed("b", car="w")], {}, "shared_event[misfire]"),
        ([changed("a"), changed("b", cured=False)], {}, "shared_event[misfire].cured"),
        ([changed("a"), changed("b", on="2018-01-05")], {}, "shared_event[misfire].removed_on"),
        ([changed("a"), changed("b", on="2015")], {}, "shared_event[misfire].removed_on"),
        ([changed("a"), changed("a")], {}, "shared_event[misfire].parts"),
        ([changed("a"), changed("b", reason="preventive")], {}, "shared_event[misfire].reason"),
        (
            [changed("a", together=5), changed("b", together=5)],
            {},
            "shared_event[misfire].changed_together",
        ),
        ([changed("a"), changed("b", together=3)], {}, "shared_event[misfire].changed_together"),
        ([changed("a"), changed("b")], {"misfire": {"c": 1.0}}, "fit[misfire][c]"),
        ([changed("a"), changed("b")], {"misfire": {"a": 0.0}}, "fit[misfire][a]"),
        ([changed("a"), changed("b")], {"misfire": {"a": float("nan")}}, "fit[misfire][a]"),
        ([changed("a"), changed("b")], {"stall": {"a": 1.0}}, "fit[stall]"),
    ],
)
def test_shared_events_that_contradict_themselves_are_refused(parts, fit, field):
    with pytest.raises(RecordError) as refused:
        shared_events(parts, fit)
    assert refused.value.field == field
