"""What must hold of any car's papers: dials go round and come back, miles and km agree, bounds stand in order."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import date, timedelta
from typing import get_args

import numpy as np
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from planner.history.conversion import spells_from
from planner.history.dates import UncertainDate
from planner.history.evidence import Reason
from planner.history.odometer import OdometerTrack
from planner.history.part_history import PartHistory
from planner.history.records import Fitment, Inspection, OdometerReading, Removal, Repair, Vehicle
from planner.history.virtual_age import VirtualAge
from planner.units import KM_PER_MILE

START, TODAY = date(1985, 1, 1), date(2026, 1, 1)
STEPS = st.lists(st.tuples(st.integers(100, 700), st.integers(0, 25_000)), min_size=1, max_size=12)


def readings(steps, first, unit="km", dial=None):
    day, total = START, first
    shown = []
    for days, driven in [(0, 0), *steps]:
        day, total = day + timedelta(days=days), total + driven
        value = total if dial is None else total % 10**dial
        shown.append(OdometerReading(read_on=day, reading={"value": value, "unit": unit}, dial_digits=dial))
    return shown


@given(STEPS, st.integers(0, 99_999))
def test_a_five_digit_dial_gives_back_the_distance_that_was_driven(steps, first):
    assume(all(driven <= 30_000.0 * days / 365.25 for days, driven in steps))
    track = OdometerTrack.from_readings(readings(steps, first, dial=5))
    assert np.allclose(np.diff(track.km), [driven for _, driven in steps], atol=1e-6)


@given(STEPS, st.integers(0, 60_000), st.randoms())
def test_the_order_in_which_readings_come_does_not_matter(steps, first, random):
    shuffled = readings(steps, first)
    random.shuffle(shuffled)
    assert (
        OdometerTrack.from_readings(shuffled).km.tolist()
        == OdometerTrack.from_readings(readings(steps, first)).km.tolist()
    )


@given(STEPS, st.integers(0, 60_000))
def test_miles_and_km_agree(steps, first):
    in_miles = OdometerTrack.from_readings(readings(steps, first, "mi"))
    as_km = OdometerTrack.from_km([p.on for p in in_miles.points], [p.km for p in in_miles.points])
    in_km = OdometerTrack.from_readings(readings(steps, first, "km"))
    assert np.allclose(as_km.km, in_km.km * KM_PER_MILE)
    day = START + timedelta(days=60)
    assert np.isclose(in_miles.km_on(day), in_km.km_on(day) * KM_PER_MILE)


@given(STEPS, st.integers(0, 60_000), st.lists(st.integers(-2_000, 12_000), min_size=2, max_size=8))
def test_distance_never_falls_with_time_and_its_bounds_stand_in_order(steps, first, offsets):
    track = OdometerTrack.from_readings(readings(steps, first))
    days = sorted(START + timedelta(days=n) for n in offsets)
    bounds = [track.bounds_on(day) for day in days]
    assert all(low <= likely <= high for low, likely, high in bounds)
    assert all(a[1] <= b[1] + 1e-6 for a, b in itertools.pairwise(bounds))


@given(
    st.dates(date(1900, 1, 1), date(2100, 1, 1)),
    st.sampled_from(["", "~", "?", "%"]),
    st.sampled_from([4, 7, 10]),
)
def test_dates_of_any_precision_hold_the_day_they_were_made_from(day, doubt, precision):
    text = day.isoformat()[:precision] + doubt
    read = UncertainDate.parse(text)
    assert read.earliest <= day <= read.latest
    assert read.earliest <= read.likely <= read.latest
    assert str(read) == text
    assert UncertainDate.parse(str(read)) == read


@st.composite
def part_histories(draw):
    """Any valid history: events at rising days and distances on one car."""
    gaps = draw(st.lists(st.tuples(st.integers(0, 900), st.integers(0, 20_000)), min_size=4, max_size=9))
    days = [START + timedelta(days=int(n)) for n in np.cumsum([g[0] for g in gaps])]
    km = [float(n) for n in np.cumsum([g[1] for g in gaps])]
    track = OdometerTrack.from_km(days, km)
    marks = sorted(draw(st.lists(st.integers(0, len(days) - 1), min_size=2, max_size=6)))
    written = draw(st.booleans())

    def odometer(at):
        return {"value": km[at], "unit": "km"} if written else None

    fitment = Fitment(
        ref="part",
        kind="x",
        fitted_on=draw(st.sampled_from([days[marks[0]].isoformat(), days[marks[0]].isoformat()[:7], None])),
        odometer=odometer(marks[0]),
        condition=draw(st.sampled_from(["new", "rebuilt"])),
    )
    looks, repairs, removal = [], [], None
    for at in marks[1:-1]:
        if draw(st.booleans()):
            undone = (
                looks
                and looks[-1].finding == "failed"
                and not (repairs and repairs[-1].repaired_on >= looks[-1].inspected_on)
            )
            found = ["failed"] if undone else ["good", "near limit", "worn to limit", "failed"]
            finding = draw(st.sampled_from(found))
            looks.append(Inspection(inspected_on=days[at], odometer=odometer(at), finding=finding))
        else:
            repairs.append(Repair(repaired_on=days[at], odometer=odometer(at), action="cleaned"))
    if draw(st.booleans()):
        removal = Removal(
            removed_on=days[marks[-1]],
            odometer=odometer(marks[-1]),
            reason=draw(st.sampled_from(get_args(Reason))),
            cured=draw(st.sampled_from([True, False, None])),
            changed_together=draw(st.integers(1, 4)),
        )
    joined = draw(st.sampled_from([None, *days]))
    vehicle = Vehicle(ref="v", name="v", joined_on=joined)
    return PartHistory(vehicle, fitment, tuple(looks), tuple(repairs), removal, track)


@settings(max_examples=400, deadline=None)
@given(
    st.lists(part_histories(), min_size=1, max_size=4),
    st.sampled_from([("distance",), ("age",), ("distance", "age")]),
)
def test_any_valid_history_gives_bounds_in_order_and_a_full_account(histories, clocks):
    result = spells_from(histories, clocks, TODAY)
    assert result.rows or result.left_out
    numbered = [row for each in result.rows for row in each.rows]
    if result.spells is None:
        assert not numbered
        return
    assert numbered == list(range(len(result.spells)))
    for bounds in result.spells.bounds:
        assert np.all((bounds.entry >= 0) & (bounds.entry <= bounds.lower) & (bounds.lower <= bounds.upper))
    assert all(0 <= each.event_weight <= 1 for each in result.rows)
    weights = [result.spells.weight[list(each.rows)].sum() for each in result.rows]
    assert np.allclose(weights, 1.0)


@settings(max_examples=200, deadline=None)
@given(part_histories())
def test_a_good_part_is_never_scored_as_failed(history):
    last = history.track.last[0]
    uncured = replace(
        history,
        inspections=tuple(look for look in history.inspections if look.finding in ("good", "near limit")),
        removal=Removal(removed_on=last, reason="on suspicion", cured=False),
    )
    spells = spells_from([uncured], ("age",), TODAY).spells
    assert spells is None or spells.censored.all()


@settings(max_examples=250, deadline=None)
@given(st.lists(part_histories(), min_size=1, max_size=3), st.sampled_from([("age",), ("distance", "age")]))
def test_keeping_undated_parts_gives_mixtures_in_order_and_leaves_dated_rows_as_they_were(histories, clocks):
    undated = [
        replace(h, fitment=h.fitment.model_copy(update={"fitted_on": None, "odometer": None}))
        for h in histories
    ]
    result = spells_from([*histories, *undated], clocks, TODAY, undated="keep")
    plain = spells_from([*histories, *undated], clocks, TODAY)
    kept, before = ([] if r.spells is None else r.spells.years.upper.tolist() for r in (result, plain))
    assert len(kept) <= len(before)
    if result.undated is None:
        return
    mixture = result.undated
    assert np.allclose(np.bincount(mixture.row, mixture.share), 1.0)
    assert len(mixture.refs) == len(mixture)
    for bounds in mixture.nodes.bounds:
        assert np.all((bounds.entry >= 0) & (bounds.entry <= bounds.lower) & (bounds.lower <= bounds.upper))


@settings(max_examples=150, deadline=None)
@given(part_histories(), st.floats(0, 1), st.sampled_from(["I", "II"]))
def test_a_repair_never_makes_a_part_older_nor_newer_than_new(history, left, form):
    set_back = VirtualAge({("cleaned", "age"): left}, form=form)
    virtual = spells_from([history], ("age",), TODAY, repairs=set_back).spells
    actual = spells_from([history], ("age",), TODAY).spells
    if virtual is None or actual is None:
        return
    assert np.all(virtual.years.entry >= -1e-9)
    assert virtual.years.lower.max() <= actual.years.lower.max() + 1e-9
