"""A backtest sees nothing of what came later, says why it left parts out, and judges nothing by a handful of failures."""

from dataclasses import replace
from datetime import date

import pytest

from planner import ClockPrior, LifePrior, backtest, known_life
from planner.errors import InputError, TooFewFailures
from planner.history.odometer import OdometerTrack
from planner.history.part_history import PartHistory
from planner.history.records import Distance, Fitment, Inspection, Removal, Repair, Vehicle
from planner.trust.backtest import origin_days
from planner.trust.known import known_on

TODAY = date(2020, 7, 1)
PRIOR = LifePrior(age=ClockPrior(5.0, 10.0))
LIFE = known_life(age=(2.0, 8.0))
CAR = Vehicle(ref="c", name="c", joined_on=date(2005, 1, 1))
TRACK = OdometerTrack.from_km(
    [date(year, 1, 1) for year in range(2005, 2021)], [2_000.0 * n for n in range(16)]
)


def part(name="a", fitted="2006-03-01", removed=None, reason="failed, confirmed", car=CAR, **fields):
    removal = None if removed is None else Removal(removed_on=removed, reason=reason)
    history = PartHistory(
        car, Fitment(ref=name, kind="rotor_arm", fitted_on=fitted), removal=removal, track=TRACK
    )
    return replace(history, **fields)


def by_truth(_known, _on):
    return LIFE


def look(day, finding="good"):
    return Inspection(inspected_on=day, finding=finding)


def test_what_was_known_on_a_day_holds_nothing_of_later():
    history = part(
        removed="2012-06-01",
        inspections=(look("2007-01-01"), look("2010-01-01", "near limit")),
        repairs=(Repair(repaired_on="2011-01-01", action="cleaned"),),
    )
    known = known_on(history, date(2010, 6, 1))
    assert (len(known.inspections), known.repairs, known.removal) == (2, (), None)
    assert known.track.last[0] == date(2010, 1, 1)
    assert known_on(history, date(2006, 2, 28)) is None
    assert known_on(history, date(2012, 6, 1)).removal is not None
    late = replace(history, vehicle=Vehicle(ref="c", name="c", joined_on=date(2011, 1, 1)))
    assert known_on(late, date(2010, 12, 31)) is None
    undated = replace(history, fitment=Fitment(ref="a", kind="rotor_arm"))
    assert known_on(undated, date(2004, 12, 31)) is None
    assert known_on(undated, date(2005, 1, 1)) is not None


def test_predictions_of_a_day_are_the_same_whatever_came_later():
    soon = [part("a", removed="2009-05-01"), part("b", "2009-05-01", "2014-01-01"), part("c", "2008-01-01")]
    later = [
        part("a", removed="2009-05-01"),
        part("b", "2009-05-01", "2012-01-01"),
        part("c", "2008-01-01", "2013-01-01"),
    ]
    told = [
        {line.on: line for line in backtest(h, ("age",), TODAY, prior=PRIOR, every="year").origins}
        for h in (soon, later)
    ]
    for on in (date(2008, 12, 31), date(2009, 12, 31), date(2010, 12, 31)):
        one, other = (lines[on] for lines in told)
        assert one.within_horizon == other.within_horizon
        assert (one.histories, one.failures, one.parts) == (other.histories, other.failures, other.parts)
    assert told[0][date(2012, 12, 31)].within_horizon != told[1][date(2012, 12, 31)].within_horizon


def test_one_failure_by_hand():
    """One part, looked at on 31 December: at risk in each year's end until it fails, expected by the law from age to age."""
    found = backtest([part(removed="2008-06-01")], ("age",), TODAY, prior=PRIOR, every="year", fit=by_truth)
    assert [line.on.year for line in found.origins] == [2006, 2007]
    assert [line.observed for line in found.origins] == [0.0, 1.0]
    ages = [((date(2006, 12, 31) - date(2006, 3, 1)).days + n) / 365.25 for n in (0, 365)]
    stated = [float(LIFE.failure_within(years=a, more_years=1.0)) for a in ages]
    assert [line.within_horizon for line in found.origins] == pytest.approx(stated, rel=2e-3)
    until = (date(2008, 6, 1) - date(2007, 12, 31)).days / 365.25
    hazards = [
        LIFE.cumulative_hazard(years=ages[n] + more) - LIFE.cumulative_hazard(years=ages[n])
        for n, more in ((0, 1.0), (1, until))
    ]
    assert [line.expected for line in found.origins] == pytest.approx(hazards, rel=2e-3)
    brier = next(s.brier for s in found.scores if s.name == "predictions")
    assert brier == pytest.approx((stated[0] ** 2 + (1 - stated[1]) ** 2) / 2, rel=2e-3)
    assert (found.failures, found.parts, found.cars, found.enough) == (1, 1, 1, False)
    assert found.verdict.startswith("Too few failures to judge by: one part failed.")
    assert found.ratio.low < 1 < found.ratio.high
    assert found.ratio.high > 4 * found.ratio.value


def test_a_part_renewed_while_good_counts_as_long_as_it_was_followed():
    kept, renewed = (
        backtest(h, ("age",), TODAY, prior=PRIOR, every="year", fit=by_truth).origins[-1]
        for h in ([part()], [part(removed="2019-03-01", reason="preventive")])
    )
    assert (kept.on.year, renewed.on.year) == (2018, 2018)
    assert kept.within_horizon == renewed.within_horizon
    assert 0 < renewed.expected < kept.expected / 4
    assert renewed.observed == 0.0


def test_a_share_of_a_failure_counts_as_a_share():
    found = backtest(
        [part(removed="2008-06-01", reason="failed, as reported")], ("age",), TODAY, prior=PRIOR, every="year"
    )
    assert found.observed == pytest.approx(0.85)  # the trade notes' weight of a failure as reported


def test_a_failure_between_two_looks_is_shared_between_the_years():
    looks = (look("2008-03-01"), look("2009-09-01", "worn to limit"))
    found = backtest([part(inspections=looks)], ("age",), TODAY, prior=PRIOR, every="year", fit=by_truth)
    lines = {line.on.year: line.observed for line in found.origins}
    assert 0.2 < lines[2007] < 0.8  # from the good look in March to the year's end, of eighteen months
    assert lines[2007] + lines[2008] == pytest.approx(1.0, abs=0.005)  # 2008 has a day that neither looks at
    assert max(lines) == 2008  # known to be bad from then on


def test_left_out_and_why():
    sold = replace(part("s"), track=TRACK.until(date(2010, 1, 1)))
    donor = replace(
        part("d"), fitment=Fitment(ref="d", kind="rotor_arm", fitted_on="2006-01-01", condition="second-hand")
    )
    found = backtest([part(), sold, donor], ("age",), TODAY, prior=PRIOR, every="year")
    reasons = {one.reason: one.count for one in found.left_out}
    assert reasons["not seen again after that day"] >= 8
    assert any("age at fitting is unknown" in reason for reason in reasons)
    assert found.parts == 2


def test_histories_that_contradict_themselves_are_listed():
    undone = part("u", inspections=(look("2008-01-01", "failed"), look("2009-01-01")))
    backwards = [part(name, removed="2006-01-01") for name in ("b", "c")]
    found = backtest([part(), undone, *backwards], ("age",), TODAY, prior=PRIOR, every="year")
    reasons = {one.reason: one.count for one in found.left_out}
    said = "a part's records contradict each other, on all past days"
    assert reasons[f"{said} (inspections.finding)"] == 1
    assert reasons[f"{said} (removal.removed_on)"] == 2
    assert found.parts == 1


def test_progress_is_told_after_each_past_day():
    told = []
    backtest(
        [part()],
        ("age",),
        TODAY,
        prior=PRIOR,
        every="year",
        fit=by_truth,
        progress=lambda *say: told.append(say),
    )
    assert told == [(n, 13, "past days") for n in range(1, 14)]


@pytest.mark.parametrize(
    ("every", "first_day", "last_day", "count"),
    [
        ("month", date(2018, 1, 31), date(2019, 6, 30), 18),
        ("quarter", date(2018, 3, 31), date(2019, 6, 30), 6),
        ("year", date(2018, 12, 31), date(2018, 12, 31), 1),
    ],
)
def test_past_days_end_a_horizon_before_today(every, first_day, last_day, count):
    days = origin_days([part()], TODAY, every, 1.0, date(2018, 1, 1))
    assert (days[0], days[-1], len(days)) == (first_day, last_day, count)


def test_refusals():
    for fields, name in (
        ({"every": "week"}, "every"),
        ({"horizon_years": 0.01}, "horizon_years"),
        ({"horizon_years": "1"}, "horizon_years"),
        ({"first": "2010-01-01"}, "first"),
    ):
        with pytest.raises(InputError, match=name):
            backtest([part()], ("age",), TODAY, prior=PRIOR, **fields)
    with pytest.raises(InputError, match="today"):
        backtest([part()], ("age",), "2020-07-01", prior=PRIOR)
    with pytest.raises(TooFewFailures, match="do not reach back a year, a whole horizon"):
        backtest([part(fitted="2020-02-01")], ("age",), TODAY, prior=PRIOR)
    with pytest.raises(TooFewFailures, match="do not reach back"):
        backtest([], ("age",), TODAY, prior=PRIOR)
    with pytest.raises(TooFewFailures, match=r"no life could be fitted.*TooFewFailures"):
        backtest([part()], ("age",), TODAY)


def test_on_distance_alone_the_rule_counts_km():
    shown = Distance(value=2_400, unit="km")
    history = replace(
        part(), fitment=Fitment(ref="a", kind="rotor_arm", fitted_on="2006-03-01", odometer=shown)
    )
    prior = LifePrior(distance=ClockPrior(10_000.0, 20_000.0))
    found = backtest([history], ("distance",), TODAY, prior=prior, every="year")
    assert {score.name for score in found.scores} == {"predictions", "rule of thumb", "the book alone"}
    assert found.expected > 0
    assert found.failures == 0
    assert found.ratio.value == 0.0
    assert found.ratio.high > 1.0
