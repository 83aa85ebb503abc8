"""Parts of unknown day and complaints that several parts answered for enter a fleet's fit as the library weighs them."""

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from planner.catalogue import load_catalogue
from planner.history.conversion import spells_from
from planner.history.odometer import OdometerTrack
from planner.history.part_history import PartHistory
from planner.history.records import Fitment, Removal, Vehicle
from planner.history.spells import Spells
from planner.life.fit import book_life, fit_life
from planner.life.joined_rows import SharedEvents, undated_rows_of
from planner.life.modifiers.usual_clocks import on_usual_clocks
from planner.life.prior import book_prior
from tests.api.history.making import car, fitment, odometer, refit, removal, settle

KIND, OTHER = "rotor_arm", "distributor_cap"
READINGS = (("2015-01-01", 40_000), ("2021-06-01", 60_000), ("2025-06-01", 72_000))
FITTED, OUT = "2016-06-01", "2021-06-01"
BOTH = ("distance", "age")


def driven(client, number, **fields):
    vehicle = car(client, name=f"car {number}", built="2000", **fields)
    for day, km in READINGS:
        odometer(client, vehicle, day, km)
    return vehicle


def life(client, kind=KIND):
    return client.get(f"/v1/part-kinds/{kind}/life").json()


def in_the_library(fitted_on, reason, *, kind=KIND, joined_on="2015-01-01", **removed):
    """The same part as the planner's own records."""
    track = OdometerTrack.from_km(
        [date.fromisoformat(day) for day, _ in READINGS], [km for _, km in READINGS]
    )
    came_off = None if reason is None else Removal(removed_on=OUT, reason=reason, **removed)
    vehicle = Vehicle(ref="car", name="car", built="2000", joined_on=joined_on)
    return PartHistory(
        vehicle, Fitment(ref="part", kind=kind, fitted_on=fitted_on), removal=came_off, track=track
    )


def scale(fitted):
    return (fitted["distance"]["scale"]["value"], fitted["age"]["scale_years"])


def test_a_part_of_unknown_day_is_averaged_over_its_days_and_never_dated_to_the_purchase(fleet, client):
    dated = [in_the_library(FITTED, "failed, confirmed")] * 3
    unknown = [in_the_library(None, "failed, confirmed")] * 2
    for number in range(5):
        day = FITTED if number < 3 else None
        removal(client, fitment(client, driven(client, number), KIND, day), OUT, "failed, confirmed")
    job = refit(fleet, client, KIND)["result"]
    assert (job["integrated_over"], job["left_out"], job["histories"]) == (2, 0, 5)
    seen = life(client)
    assert seen["evidence"]["integrated_over"] == 2
    assert "2 parts are of unknown day" in seen["evidence"]["words"]

    prior = book_prior(load_catalogue()[KIND])
    found = spells_from(dated + unknown, BOTH, date.today(), undated="keep")  # noqa: DTZ011 - any later day
    right = fit_life(found.spells, prior, joined=[undated_rows_of(found.undated)])
    assert scale(seen) == pytest.approx((right.distance.scale, right.age.scale), rel=1e-6)

    at_the_purchase = [in_the_library("2015-01-01", "failed, confirmed")] * 2
    wrong = fit_life(spells_from(dated + at_the_purchase, BOTH, date.today()).spells, prior)  # noqa: DTZ011
    assert abs(wrong.age.scale / right.age.scale - 1) > 0.02


def test_without_a_prior_parts_of_unknown_day_are_left_out_and_named(fleet, client):
    settle(fleet, client.put(f"/v1/part-kinds/{KIND}/settings", json={"prior": "none", "clocks": ["age"]}))
    for number, years in enumerate((1, 2, 3)):
        part = fitment(client, driven(client, number), KIND, f"{2021 - years}-06-01")
        removal(client, part, OUT, "failed, confirmed")
    removal(client, fitment(client, driven(client, 9), KIND, None), OUT, "failed, confirmed")
    job = refit(fleet, client, KIND)
    assert job["state"] == "succeeded", job
    assert (job["result"]["integrated_over"], job["result"]["left_out"]) == (0, 1)


def test_the_guilty_one_of_two_renewed_at_once_is_weighed_by_how_likely_each_was_to_fail(fleet, client):
    said = {"cured": True, "changed_together": 2}
    for number in range(4):
        vehicle = driven(client, number)
        for kind, fit in ((KIND, 0.3), (OTHER, 0.9)):
            marks = {"shared_event": f"misfire {number}", "complaint_fit": fit}
            removal(client, fitment(client, vehicle, kind, FITTED), OUT, "on suspicion", **said, **marks)
    job = refit(fleet, client, KIND)["result"]
    assert job["shared_events"] == 4
    seen = life(client)
    assert "4 complaints that several parts answered for" in seen["evidence"]["words"]

    prior, other = (book_prior(load_catalogue()[kind]) for kind in (KIND, OTHER))
    row = spells_from([in_the_library(FITTED, "failed, confirmed")], BOTH, date.today()).spells  # noqa: DTZ011
    km, years, rate = row.km.upper[0], row.years.upper[0], row.km_per_year[0]
    hazard = float(book_life(other).hazard(km=km, years=years, km_per_year=rate))
    four = Spells.concat([row] * 4)
    shared = SharedEvents.of(four, [0, 1, 2, 3], [0.3] * 4, [0.9 * hazard] * 4)
    nothing = Spells.on_both([1e4], [float("inf")], [1.0], [float("inf")], [1e4], [1.0], 1e-9)
    right = fit_life(nothing, prior, joined=[shared])
    assert scale(seen) == pytest.approx((right.distance.scale, right.age.scale), rel=1e-6)
    assert seen["evidence"]["failures"] == pytest.approx(shared.failed(right.parameters), rel=1e-6)

    equal = spells_from([in_the_library(FITTED, "on suspicion", **said)] * 4, BOTH, date.today()).spells  # noqa: DTZ011
    wrong = fit_life(equal, prior)
    assert abs(wrong.evidence.failures - seen["evidence"]["failures"]) > 0.2


def test_a_complaint_that_stayed_leaves_every_part_good(fleet, client):
    vehicle = driven(client, 0)
    for kind in (KIND, OTHER):
        part = fitment(client, vehicle, kind, FITTED)
        removal(client, part, OUT, "on suspicion", cured=False, shared_event="misfire")
    job = refit(fleet, client, KIND)["result"]
    assert (job["shared_events"], job["failures"], job["histories"]) == (0, 0, 1)


def test_pattern_parts_that_cannot_teach_what_pattern_does_count_by_the_book(fleet, client):
    # Of unknown day, or with a shared complaint: their clocks are divided by the book's middle, the root of 0.5 times 0.7.
    for number in range(3):
        removal(client, fitment(client, driven(client, number), KIND, FITTED), OUT, "failed, confirmed")
    for number in (3, 4):
        unknown = fitment(client, driven(client, number), KIND, None, grade="pattern")
        removal(client, unknown, OUT, "failed, confirmed")
    said = {"cured": True, "changed_together": 2, "shared_event": "misfire", "complaint_fit": 0.5}
    vehicle = driven(client, 5)
    for kind, grade in ((KIND, "pattern"), (OTHER, None)):
        removal(client, fitment(client, vehicle, kind, FITTED, grade=grade), OUT, "on suspicion", **said)
    assert refit(fleet, client, KIND)["state"] == "succeeded"
    seen = life(client)
    assert (
        "3 parts in circumstances of their own count by the book's multipliers" in seen["evidence"]["words"]
    )
    assert [one["source"] for one in seen["circumstances"]] == ["book"]

    prior, other = (book_prior(load_catalogue()[kind]) for kind in (KIND, OTHER))
    day, factor = date.today(), math.sqrt(0.5 * 0.7)  # noqa: DTZ011 - any later day
    found = spells_from(
        [in_the_library(FITTED, "failed, confirmed")] * 3 + [in_the_library(None, "failed, confirmed")] * 2,
        BOTH, day, undated="keep",
    )  # fmt: skip
    row = found.spells.take([0])
    hazard = float(
        book_life(other).hazard(km=row.km.upper[0], years=row.years.upper[0], km_per_year=row.km_per_year[0])
    )

    def fitted(by):
        nodes = found.undated.nodes
        undated = replace(found.undated, nodes=on_usual_clocks(nodes, np.full((len(nodes), 2), by)))
        shared = SharedEvents.of(on_usual_clocks(row, [[by, by]]), [0], [0.5 / by], [0.5 * hazard])
        return fit_life(found.spells, prior, joined=[undated_rows_of(undated), shared])

    right, wrong = fitted(factor), fitted(1.0)
    assert scale(seen) == pytest.approx((right.distance.scale, right.age.scale), rel=1e-6)
    assert scale(seen) != pytest.approx((wrong.distance.scale, wrong.age.scale), rel=0.02)
