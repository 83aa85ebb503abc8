"""The next step: checks first where they pay, renewal where they do not, handing over where nothing does."""

from dataclasses import replace

import pytest

from planner.faults.errors import FaultError
from planner.faults.next_step import advise, choose
from planner.faults.suspects import rank
from planner.faults.values import Candidate, Check, Checked, FaultFinding, HandOver, Reading, Renewed
from tests.planner.unit.faults.fault_findings import CAP, COIL, LEADS, damp_misfire, suspect


def test_a_cheap_telling_check_comes_before_a_dear_part_and_says_not_to_buy_yet():
    advice = advise(damp_misfire())
    assert advice.step.kind == "check"
    assert advice.value_of_checking > 0
    assert advice.dont_buy_yet.startswith("Don't buy a part yet: leads leads at about")
    best_without = min(o.expected_cost for o in advice.options if o.kind != "check")
    assert advice.value_of_checking == pytest.approx(best_without - advice.step.expected_cost)


def test_a_part_that_is_due_anyway_is_not_held_back_and_the_others_are():
    plain = damp_misfire()
    leads, *others = plain.candidates
    due = replace(leads, due_anyway="due anyway by its limit, whatever the fault is")
    advice = advise(damp_misfire(candidates=(due, *others)))
    assert advice.due_anyway == "Leads: due anyway by its limit, whatever the fault is."
    assert advice.dont_buy_yet.startswith("Don't buy another part yet: cap stands at about")
    assert {option.ref: bool(option.due_anyway) for option in advice.options if option.kind == "renew"} == {
        LEADS: True, CAP: False, COIL: False,
    }  # fmt: skip
    assert advice.step == advise(plain).step  # nothing is said of what would be spent anyway: words only
    renewed = advise(damp_misfire(Renewed((LEADS,)), candidates=(due, *others)))
    assert renewed.due_anyway == ""
    all_due = tuple(replace(one, due_anyway="due anyway") for one in plain.candidates)
    assert advise(damp_misfire(candidates=all_due)).dont_buy_yet == ""


def test_what_is_spent_anyway_is_no_cost_of_the_search_and_can_change_the_next_step():
    plain = damp_misfire()
    leads, *others = plain.candidates
    before = advise(plain)
    assert before.step.kind == "check"
    due = replace(leads, due_anyway="due anyway by its limit, whatever the fault is", spent_anyway=200.0)
    advice = advise(damp_misfire(candidates=(due, *others)))
    assert (advice.step.kind, advice.step.ref) == ("renew", LEADS)
    assert (advice.step.outlay, advice.step.spent_anyway) == (210.0, 200.0)  # 180 and half an hour at 60
    assert (
        "renewing it now costs about 210 and in all costs about 10 more than on its own day" in advice.reason
    )
    assert advice.due_anyway.startswith(
        "Leads: due anyway by its limit, whatever the fault is; renewing it now costs about 210"
    )
    # the same as leads that cost 200 less, outlays and words apart
    cheap = advise(damp_misfire(candidates=(replace(leads, money=0.0, minutes=10.0), *others)))
    costs = {(one.kind, one.ref): one.expected_cost for one in advice.options}
    assert costs == pytest.approx({(one.kind, one.ref): one.expected_cost for one in cheap.options})


def test_a_renewal_that_is_near_is_told_and_counts_once():
    leads, *others = damp_misfire().candidates
    near = (replace(leads, spent_anyway=50.0), *others)
    advice = advise(damp_misfire(candidates=near))
    assert advice.due_anyway.startswith(
        "Leads: its own renewal is near anyway; renewing it now costs about 210"
    )
    assert advice.dont_buy_yet.startswith("Don't buy a part yet: leads leads")  # nothing obliges to buy it
    done = Renewed((LEADS,))
    after, plain = advise(damp_misfire(done, candidates=near)), advise(damp_misfire(done))
    assert after.due_anyway == ""
    assert [one.expected_cost for one in after.options] == [one.expected_cost for one in plain.options]
    with pytest.raises(FaultError, match="spent_anyway"):
        damp_misfire(candidates=(replace(leads, spent_anyway=211.0), *others))


def test_it_says_what_each_outcome_would_do_to_the_ranking():
    finding = damp_misfire()
    advice = advise(finding)
    assert sum(outcome.chance for outcome in advice.outcomes) == pytest.approx(1.0, abs=1e-3)
    for outcome in advice.outcomes:
        assert ": shows " in outcome.words
        assert len(outcome.ranking.suspects) == 3
    average = sum(outcome.chance * outcome.ranking.of(LEADS).cause for outcome in advice.outcomes)
    assert average == pytest.approx(
        rank(finding).of(LEADS).cause, abs=1e-3
    )  # outcomes average out to what is known


def test_a_cheap_part_with_long_odds_on_is_renewed_without_a_dear_check():
    parts = (suspect(LEADS, 0.4, 0.9, money=5.0, minutes=2.0), suspect(CAP, 0.01, 0.5))
    dear = (Check("bench", "bench test", (Reading(LEADS, 0.9, 0.9),), 80.0, 60.0),)
    advice = advise(damp_misfire(candidates=parts, checks=dear))
    assert (advice.step.kind, advice.step.ref) == ("renew", LEADS)
    assert advice.dont_buy_yet == ""
    assert advice.value_of_checking == 0.0
    assert [o.words for o in advice.outcomes] == ["cured", "not cured"]
    assert advice.outcomes[0].ranking is None


def test_when_something_else_is_likeliest_by_far_it_is_handed_over():
    parts = (suspect(LEADS, 0.001, 0.5, money=300.0),)
    advice = advise(damp_misfire(candidates=parts, something_else=0.2, checks=(), hand_over=HandOver(100.0)))
    assert advice.step.kind == "hand over"
    assert advice.outcomes == ()
    assert "something else" in advice.reason


def test_checks_and_renewals_already_done_are_not_offered_again():
    finding = damp_misfire(Checked("mist", ((LEADS, False), (CAP, False), (COIL, False))), Renewed((LEADS,)))
    refs = {(o.kind, o.ref) for o in advise(finding).options}
    assert refs == {("check", "look at cap"), ("renew", CAP), ("renew", COIL), ("hand over", "")}


def test_a_stop_driving_warning_and_the_check_s_caution_pass_through():
    hot = (Check("mist", "mist", (Reading(LEADS, 0.7, 0.92),), 0.0, 1.0, caution="keep hands away"),)
    advice = advise(damp_misfire(checks=hot, stop_driving="fuel smell", warning="no naked flame"))
    assert (advice.stop_driving, advice.warning) == ("fuel smell", "no naked flame")
    assert advice.step.caution == "keep hands away"


def test_an_hour_that_counts_more_turns_from_a_long_check_to_a_quick_part():
    parts = (
        suspect(LEADS, 0.2, 0.6, money=40.0, minutes=5.0),
        suspect(CAP, 0.1, 0.5, money=40.0, minutes=5.0),
    )
    slow = (Check("strip", "strip and look", tuple(Reading(p, 0.95, 0.95) for p in (LEADS, CAP)), 0.0, 60.0),)
    cheap_hour = choose(damp_misfire(candidates=parts, checks=slow, hourly_rate=5.0))
    dear_hour = choose(damp_misfire(candidates=parts, checks=slow, hourly_rate=120.0))
    assert (cheap_hour.kind, dear_hour.kind) == ("check", "renew")


def test_an_intermittent_fault_makes_a_check_worth_less():
    parts = (suspect(LEADS, 0.2, 0.6), suspect(CAP, 0.2, 0.6))
    hot = (Check("heat", "heat gun", (Reading(LEADS, 0.9, 0.9),), 0.0, 10.0, needs_fault_present=True),)
    steady = advise(damp_misfire(candidates=parts, checks=hot))
    rare = advise(damp_misfire(candidates=parts, checks=hot, fault_present=0.15))
    assert steady.step.kind == "check"
    assert rare.value_of_checking < steady.value_of_checking


def test_draws_are_taken_along():
    import numpy as np

    draws = np.random.default_rng(1).lognormal(np.log(0.2), 0.5, 200)
    parts = (Candidate(LEADS, LEADS, draws, 0.6, 60, 30), suspect(CAP, 0.05, 0.5))
    advice = advise(damp_misfire(candidates=parts))
    assert advice.ranking.of(LEADS).low < advice.ranking.of(LEADS).high


@pytest.mark.parametrize(("minutes", "praised"), [(10.0, True), (28.0, False)])
def test_a_check_that_saves_next_to_nothing_is_not_praised(minutes, praised):
    part = Candidate("p", "pump", hazard=0.1, share=0.5, money=200.0, minutes=60.0)
    look = Check("look", "a look at it", (Reading("p", 0.7, 0.9),), minutes=minutes)
    told = advise(FaultFinding("rough", (part,), 0.03, (look,), hand_over=HandOver(100.0, 0.0, 100.0)))
    assert told.step.kind == "check"
    assert (told.value_of_checking > 0.01 * told.step.expected_cost) is praised
    assert ("saves about" in told.reason and "saves about" in told.dont_buy_yet) is praised
    assert ("handing over to a specialist now would come to much the same" in told.reason) is not praised
    assert told.dont_buy_yet.startswith("Don't buy a part yet: pump leads at about 3 to 2 on")
