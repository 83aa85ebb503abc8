"""A case: opened, steps added, closed once; what it then says of each part, and what a complaint learns from it."""

import math

import pytest

from planner.errors import InputError
from planner.faults.cases import SOMETHING_ELSE, Closing, FaultCase
from planner.faults.errors import CaseClosed, ContradictoryResults, FaultError, PartNotOnCar
from planner.faults.shares import KnownCause, known_cause, learn_shares
from planner.faults.values import Checked, Renewed
from tests.planner.unit.faults.fault_findings import CAP, COIL, LEADS, damp_misfire


def by_part(case):
    return {row.part: row for row in case.evidence().parts}


def test_a_part_renewed_on_suspicion_without_cure_was_good():
    case = FaultCase(damp_misfire()).with_steps(Renewed((COIL,))).close(Closing(cured_by=(LEADS,)))
    rows = by_part(case)
    assert (rows[COIL].reason, rows[COIL].cured, rows[COIL].event_weight) == ("on suspicion", False, 0.0)
    assert (rows[LEADS].reason, rows[LEADS].cured, rows[LEADS].event_weight) == ("on suspicion", True, 0.75)
    assert case.evidence().causes == {LEADS: 0.75, SOMETHING_ELSE: 0.25}


def test_a_check_that_showed_bad_or_a_bench_test_makes_the_failure_surer():
    seen = FaultCase(damp_misfire(Checked("mist", ((LEADS, True),)))).close(Closing(cured_by=(LEADS,)))
    bench = FaultCase(damp_misfire()).close(Closing(cured_by=(LEADS,), confirmed=(LEADS,)))
    assert by_part(seen)[LEADS].reason == "failed, as reported"
    assert (by_part(bench)[LEADS].reason, by_part(bench)[LEADS].event_weight) == ("failed, confirmed", 1.0)
    assert bench.evidence().causes[SOMETHING_ELSE] == 0.0


def test_several_parts_renewed_together_share_one_cause_by_fit_and_hazard():
    case = FaultCase(damp_misfire()).close(Closing(cured_by=(LEADS, CAP)))
    rows = by_part(case)
    leads, cap = 0.4 * 0.2 / 0.8, 0.5 * 0.1 / 0.9
    assert rows[LEADS].event_weight == pytest.approx(0.8 * leads / (leads + cap))
    assert rows[LEADS].event_weight + rows[CAP].event_weight == pytest.approx(0.8)
    assert rows[LEADS].changed_together == 2
    assert (rows[LEADS].fit, rows[CAP].fit) == (0.4, 0.5)


def test_a_bench_test_settles_which_of_several_it_was():
    case = FaultCase(damp_misfire()).close(Closing(cured_by=(LEADS, CAP), confirmed=(CAP,)))
    rows = by_part(case)
    assert (rows[CAP].reason, rows[CAP].event_weight) == ("failed, confirmed", 1.0)
    assert (rows[LEADS].reason, rows[LEADS].event_weight) == ("while there", 0.0)


def test_a_part_taken_out_without_cure_may_still_be_shown_to_have_failed():
    case = FaultCase(damp_misfire()).with_steps(Renewed((COIL,)))
    rows = by_part(case.close(Closing(cured_by=(LEADS,), confirmed=(COIL,))))
    assert (rows[COIL].reason, rows[COIL].cured, rows[COIL].event_weight) == ("failed, confirmed", False, 1.0)


def test_cured_by_something_else_or_given_up_leaves_every_renewed_part_good():
    opened = FaultCase(damp_misfire()).with_steps(Renewed((COIL,)))
    elsewhere, given_up = opened.close(Closing(something_else=True)), opened.close(Closing())
    assert [row.event_weight for row in (*elsewhere.evidence().parts, *given_up.evidence().parts)] == [
        0.0,
        0.0,
    ]
    assert elsewhere.evidence().causes == {SOMETHING_ELSE: 1.0}
    assert given_up.evidence().causes == {}


def test_a_closed_case_takes_no_more_steps_and_no_second_end_and_loses_nothing():
    closed = FaultCase(damp_misfire()).close(Closing(cured_by=(LEADS,)))
    for change in (lambda: closed.close(Closing()), lambda: closed.with_steps(Renewed((CAP,)))):
        with pytest.raises(CaseClosed, match="still open"):
            change()
    assert closed.closing == Closing(cured_by=(LEADS,))
    assert closed.finding.steps == ()


@pytest.mark.parametrize(
    ("steps", "error"),
    [
        ((Renewed(("wiper",)),), PartNotOnCar),
        ((Checked("mist", ((CAP, True),)), Checked("mist", ((CAP, False),))), ContradictoryResults),
    ],
)
def test_a_step_that_does_not_fit_is_refused_and_the_case_stays_as_it_was(steps, error):
    case = FaultCase(damp_misfire())
    with pytest.raises(error):
        case.with_steps(*steps)
    assert case.finding.steps == ()


@pytest.mark.parametrize(
    ("closing", "field"),
    [({"cured_by": ("wiper",)}, "cured_by"), ({"confirmed": (CAP,)}, "confirmed")],
)
def test_an_end_that_names_a_part_wrongly_is_refused(closing, field):
    with pytest.raises(InputError) as caught:
        FaultCase(damp_misfire()).close(Closing(**closing))
    assert caught.value.field == field


def test_two_cures_at_once_and_evidence_from_an_open_case_are_refused():
    with pytest.raises(FaultError, match="one cure"):
        Closing(cured_by=(CAP,), something_else=True)
    with pytest.raises(FaultError, match="a closed case"):
        FaultCase(damp_misfire()).evidence()


BOOK = {"leads": 35.0, "cap": 30.0, "rotor": 8.0, SOMETHING_ELSE: 27.0}


def test_with_average_cars_the_shares_are_the_dirichlet_mean():
    cases = [KnownCause({"cap": 1.0})] * 4 + [KnownCause({"leads": 0.75, SOMETHING_ELSE: 0.25})]
    learnt = learn_shares(BOOK, cases, book_cases=15.0)
    assert learnt.shares["cap"] == pytest.approx((15 * 0.30 + 4) / 20)
    assert learnt.shares["leads"] == pytest.approx((15 * 0.35 + 0.75) / 20)
    assert learnt.shares[SOMETHING_ELSE] == pytest.approx((15 * 0.27 + 0.25) / 20)
    assert sum(learnt.shares.values()) == pytest.approx(1.0)
    assert learnt.book_share == pytest.approx(0.75)
    assert learn_shares(BOOK, []).shares["cap"] == pytest.approx(0.30)


def test_old_leads_that_are_guilty_teach_less_than_average_leads_that_are_guilty():
    old = learn_shares(BOOK, [KnownCause({"leads": 1.0}, {"leads": 8.0})] * 10)
    average = learn_shares(BOOK, [KnownCause({"leads": 1.0})] * 10)
    assert 0.35 < old.shares["leads"] < average.shares["leads"]


def test_the_shares_are_found_again_from_many_cars_with_parts_of_any_age():
    import numpy as np

    rng = np.random.default_rng(3)
    true = {"leads": 0.2, "cap": 0.5, "rotor": 0.1, SOMETHING_ELSE: 0.2}
    kinds, cases = list(true), []
    for _ in range(4000):
        ratios = {
            k: float(rng.lognormal(1.0 if k == "leads" else 0.0, 1.0)) for k in kinds if k != SOMETHING_ELSE
        }
        weights = np.array([true[k] * ratios.get(k, 1.0) for k in kinds])
        cases.append(KnownCause({kinds[rng.choice(4, p=weights / weights.sum())]: 1.0}, ratios))
    learnt = learn_shares(BOOK, cases).shares
    assert all(math.isclose(learnt[k], true[k], abs_tol=0.03) for k in kinds)
    naive = sum("leads" in case.causes for case in cases) / len(cases)
    assert naive > 0.3  # counting alone blames the old leads


def test_a_closed_case_teaches_by_kind_with_the_car_s_own_wear_counted_out():
    kinds = {LEADS: "ht_leads", CAP: "distributor_cap", COIL: "ignition_coil"}
    case = FaultCase(damp_misfire())
    learnt = known_cause(case.close(Closing(cured_by=(LEADS,))), kinds)
    assert learnt.causes == {"ht_leads": 0.75, SOMETHING_ELSE: 0.25}
    assert learnt.car_ratios["ht_leads"] == pytest.approx(-math.log1p(-0.2) / 0.05)
    assert known_cause(case.close(Closing()), kinds) is None
    with pytest.raises(FaultError, match="kind_of"):
        known_cause(case.close(Closing(something_else=True)), {LEADS: "ht_leads"})


def test_an_unlisted_cause_counts_as_something_else():
    assert learn_shares(BOOK, [KnownCause({"harness": 1.0})] * 5).shares[SOMETHING_ELSE] > 0.3


@pytest.mark.parametrize(
    "book", [{"leads": 1.0}, {"leads": 0.0, SOMETHING_ELSE: 1.0}, {"leads": math.nan, SOMETHING_ELSE: 1.0}]
)
def test_shares_that_make_no_sense_are_refused(book):
    with pytest.raises(FaultError, match="book"):
        learn_shares(book, [])


def test_causes_that_do_not_sum_to_one_are_refused():
    with pytest.raises(FaultError, match="sum to 1"):
        KnownCause({"leads": 0.5})
