"""Ranking: what a check, a renewal, the draws and the book do to it, and what is refused."""

import math

import numpy as np
import pytest

from planner.errors import InputError
from planner.faults.errors import ContradictoryResults, FaultError, PartNotOnCar
from planner.faults.suspects import rank
from planner.faults.values import Candidate, Check, Checked, FaultFinding, Reading, Renewed
from planner.faults.words import odds_in_words, times_in_words
from tests.planner.unit.faults.fault_findings import CAP, COIL, LEADS, damp_misfire, suspect


def odds(chance):
    return chance / (1 - chance)


def test_a_check_that_stays_quiet_moves_the_odds_of_every_part_it_looks_at_by_its_ratio():
    before = rank(damp_misfire())
    after = rank(damp_misfire(Checked("mist", ((LEADS, False), (CAP, True)))))
    assert odds(after.of(LEADS).faulty) / odds(before.of(LEADS).faulty) != pytest.approx(
        0.3 / 0.92
    )  # cap's too
    alone = rank(damp_misfire(Checked("mist", ((LEADS, False),))))
    assert odds(alone.of(LEADS).faulty) / odds(before.of(LEADS).faulty) == pytest.approx(
        0.3 / 0.92, rel=1e-12
    )
    assert alone.of(LEADS).check_ratio == pytest.approx(0.3 / 0.92, rel=1e-12)
    assert alone.of(CAP).check_ratio == 1.0


def test_repeating_a_check_adds_nothing_but_a_second_kind_of_check_does():
    once = rank(damp_misfire(Checked("mist", ((CAP, True),))))
    again = rank(damp_misfire(Checked("mist", ((CAP, True),)), Checked("mist", ((CAP, True),))))
    both = rank(damp_misfire(Checked("mist", ((CAP, True),)), Checked("look at cap", ((CAP, True),))))
    assert once == again
    assert both.of(CAP).cause > once.of(CAP).cause


def test_a_part_renewed_without_cure_keeps_hardly_more_than_its_chance_of_being_bad_from_new():
    parts = (suspect(LEADS, 0.05, 0.6, new_part_fault=0.03), suspect(CAP, 0.05, 0.5))
    ranking = rank(damp_misfire(Renewed((LEADS,)), candidates=parts))
    assert ranking.suspects[0].part == CAP
    assert 0.03 < ranking.of(LEADS).faulty < 0.06
    assert ranking.of(LEADS).renewed


def test_a_new_part_is_not_blamed_for_a_complaint_that_was_there_before_it():
    """Reading the complaint as if first noticed after the renewal would make the new part the first suspect."""
    changes = {"something_else": 0.001, "checks": ()}
    parts = (suspect(LEADS, 0.004, 0.6, new_part_fault=0.05), suspect(CAP, 0.004, 0.5))
    as_new = (suspect(LEADS, 0.05, 0.6), suspect(CAP, 0.004, 0.5))
    assert rank(damp_misfire(Renewed((LEADS,)), candidates=parts, **changes)).suspects[0].part == CAP
    assert rank(damp_misfire(candidates=as_new, **changes)).suspects[0].part == LEADS


def test_nothing_goes_to_certainty_and_a_second_fault_keeps_its_own_chance():
    finding = damp_misfire(Checked("mist", ((LEADS, True), (CAP, True), (COIL, True))), something_else=1e-6)
    ranking = rank(finding)
    assert all(0.0 < s.cause < 1.0 and 0.0 < s.faulty < 1.0 for s in ranking.suspects)
    assert ranking.two_or_more > 0.1
    assert ranking.something_else > 0.0


def test_it_says_what_is_book_and_what_is_this_car():
    leads = rank(damp_misfire()).of(LEADS)
    weight = math.expm1(-math.log1p(-0.2)) / math.expm1(0.05)
    assert leads.car_ratio == pytest.approx(weight)
    assert leads.book_cause < leads.cause
    assert leads.reason.startswith("Book alone: about")
    assert "5 times the chance of an average one" in leads.reason


def test_draws_give_a_range_around_the_chance():
    draws = np.random.default_rng(4).lognormal(np.log(0.1), 0.8, 400)
    parts = (Candidate(LEADS, LEADS, draws, 0.6, 60, 30), suspect(CAP, 0.05, 0.5))
    leads = rank(damp_misfire(candidates=parts, checks=())).of(LEADS)
    assert 0.0 < leads.low < leads.cause < leads.high < 1.0


def test_independent_draws_give_the_same_as_their_mean_fault_chances():
    rng = np.random.default_rng(5)
    grid = [rng.uniform(0.01, 0.5, 30) for _ in range(2)]
    crossed = [np.repeat(grid[0], 30), np.tile(grid[1], 30)]
    steps = (Checked("mist", ((LEADS, False), (CAP, True))), Renewed((CAP,)))
    names = (LEADS, CAP)

    def ranking(hazards):
        parts = tuple(Candidate(n, n, h, 0.5, 50, 30, 0.02) for n, h in zip(names, hazards, strict=True))
        return rank(damp_misfire(*steps, candidates=parts))

    mean = [float(-np.log1p(-np.mean(-np.expm1(-g)))) for g in grid]
    assert ranking(crossed).of(LEADS).cause == pytest.approx(ranking(mean).of(LEADS).cause, abs=1e-12)


def test_a_check_made_while_the_fault_stays_away_says_little_but_never_the_opposite():
    def after(present, bad):
        hot = Check("heat gun", "heat gun", (Reading(COIL, 0.65, 0.9),), needs_fault_present=True)
        step = Checked("heat gun", ((COIL, bad),), fault_present=present)
        return odds(rank(damp_misfire(step, checks=(hot,))).of(COIL).faulty)

    none = odds(rank(damp_misfire()).of(COIL).faulty)
    assert after(1.0, bad=True) / none == pytest.approx(6.5)
    assert after(0.4, bad=True) / none == pytest.approx(0.65 * 0.4 / 0.1)
    assert after(0.4, bad=False) / none == pytest.approx((1 - 0.26) / 0.9)
    assert after(0.05, bad=True) / none == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("steps", "error"),
    [
        ((Renewed(("wiper",)),), PartNotOnCar),
        ((Checked("mist", (("wiper", True),)),), PartNotOnCar),
        ((Checked("dwell", ((CAP, True),)),), PartNotOnCar),
        ((Checked("look at cap", ((LEADS, True),)),), PartNotOnCar),
        ((Checked("mist", ((CAP, True),)), Checked("mist", ((CAP, False),))), ContradictoryResults),
    ],
)
def test_steps_that_do_not_fit_the_car_or_each_other_are_refused(steps, error):
    with pytest.raises(error, match=r"steps\[\d\]: wanted"):
        rank(damp_misfire(*steps))


@pytest.mark.parametrize(
    ("step", "field"),
    [
        (lambda: Renewed(()), "parts"),
        (lambda: Renewed((CAP, CAP)), "parts"),
        (lambda: Checked("mist", ()), "shows_bad"),
        (lambda: Checked("mist", ((CAP, True), (CAP, False))), "shows_bad"),
        (lambda: Checked("mist", ((CAP, 1),)), "shows_bad.cap"),
        (lambda: Checked("", ((CAP, True),)), "check"),
        (lambda: Checked("mist", ((CAP, True),), fault_present=0.0), "fault_present"),
    ],
)
def test_a_step_that_makes_no_sense_is_refused_by_name(step, field):
    with pytest.raises(FaultError) as caught:
        step()
    assert caught.value.field == field


def test_one_result_for_several_parts_repeated_adds_nothing_and_its_opposite_contradicts():
    needle = (Check("needle", "needle", tuple(Reading(p, 0.75, 0.8) for p in (CAP, COIL)), one_result=True),)

    def ranking(*steps):
        return rank(damp_misfire(*steps, checks=needle))

    dead, alive = Checked("needle", shows_bad=True), Checked("needle", shows_bad=False)
    assert ranking(dead) == ranking(dead, dead)
    with pytest.raises(ContradictoryResults):
        ranking(dead, alive)
    # once the cap is new, a needle that moves speaks for the new cap only; one that stays dead says nothing more
    assert ranking(dead, Renewed((CAP,)), alive).of(COIL).check_ratio == pytest.approx(0.75 / 0.2)
    assert ranking(dead, Renewed((CAP,)), dead) == ranking(dead, Renewed((CAP,)))


def test_the_same_check_may_show_something_else_on_the_new_part():
    steps = (Checked("mist", ((CAP, True),)), Renewed((CAP,)), Checked("mist", ((CAP, False),)))
    assert rank(damp_misfire(*steps)).of(CAP).check_ratio == pytest.approx(0.3 / 0.92)


BAD = [math.nan, math.inf, -0.1, "x", None, True]


@pytest.mark.parametrize("value", BAD)
@pytest.mark.parametrize("field", ["hazard", "share", "money", "minutes", "new_part_fault", "bad_from_new"])
def test_bad_figures_of_a_suspect_are_refused_by_name(field, value):
    good = {"hazard": 0.1, "share": 0.5, "money": 50.0, "minutes": 30.0}
    with pytest.raises(FaultError) as caught:
        Candidate("leads", "leads", **(good | {field: value}))
    assert caught.value.field == field


@pytest.mark.parametrize(
    "change",
    [
        {"something_else": 0.0},
        {"something_else": 1.0},
        {"candidates": (suspect(CAP, 0.1, 0.5), suspect(CAP, 0.1, 0.5))},
        {
            "candidates": (
                Candidate("a", "a", np.ones(3), 0.5, 1, 1),
                Candidate("b", "b", np.ones(4), 0.5, 1, 1),
            )
        },
        {"hourly_rate": -1.0},
        {"fault_present": 0.0},
    ],
)
def test_a_finding_that_makes_no_sense_is_refused(change):
    with pytest.raises(InputError) as caught:
        damp_misfire(**change)
    assert caught.value.field in change


def test_a_check_worse_than_tossing_a_coin_is_refused():
    with pytest.raises(FaultError, match=r"sensitivity: wanted a finite number of at least 0.4"):
        Reading("cap", 0.3, 0.6)


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.5, "about evens"),
        (0.6, "about 3 to 2 on"),
        (0.75, "about 3 to 1 on"),
        (1 / 21, "about 20 to 1 against"),
        (1 - 1e-12, "more than 100 to 1 on"),
        (0.0, "more than 100 to 1 against"),
    ],
)
def test_odds_are_said_in_round_figures(chance, words):
    assert odds_in_words(chance) == words


@pytest.mark.parametrize(
    ("ratio", "words"),
    [
        (1.1, "about"),
        (6.2, "6 times"),
        (0.33, "1/3 of"),
        (0.62, "0.6 times"),
        (500, "over 100 times"),
    ],
)
def test_factors_are_said_in_round_figures(ratio, words):
    assert times_in_words(ratio) == words


def test_sixty_suspects_are_ranked_quickly_enough_to_answer_a_request():
    import time

    rng = np.random.default_rng(1)
    parts = tuple(
        Candidate(str(i), str(i), rng.uniform(0.01, 0.2, 400), 0.3, 50, 30, 0.02) for i in range(60)
    )
    finding = FaultFinding("x", parts, 0.01, steps=(Renewed(("1",)), Renewed(("2",))))
    best = min(_time(time.perf_counter, lambda: rank(finding)) for _ in range(5))
    assert best < 0.2


def _time(clock, work):
    start = clock()
    work()
    return clock() - start
