"""Whatever the figures: chances stay between 0 and 1, evidence moves them the right way, order of checks is nothing."""

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.faults.lookahead import action_costs
from planner.faults.search import HAND_OVER, Search
from planner.faults.suspects import rank
from planner.faults.values import Candidate, Check, Checked, FaultFinding, HandOver, Reading, Renewed

part = st.tuples(
    st.floats(1e-6, 40.0),
    st.floats(0.0, 1.0),
    st.floats(1.0, 500.0),
    st.floats(1.0, 200.0),
    st.floats(0.0, 0.1),
)
quality = st.tuples(st.floats(0.5, 0.99), st.floats(0.5, 0.99))
leak = st.floats(1e-9, 0.5)


@st.composite
def findings(draw):
    parts = draw(st.lists(part, min_size=2, max_size=6))
    candidates = tuple(
        Candidate(str(i), str(i), h, c, m, t, pi0) for i, (h, c, m, t, pi0) in enumerate(parts)
    )
    sens, spec = draw(quality)
    other_sens, other_spec = draw(quality)
    checks = (
        Check("one", "one", tuple(Reading(c.part, sens, spec) for c in candidates), 1.0, 5.0),
        Check("two", "two", (Reading("0", other_sens, other_spec),), 2.0, 5.0),
    )
    return FaultFinding("x", candidates, draw(leak), checks, hand_over=HandOver(draw(st.floats(1.0, 1000.0))))


@settings(max_examples=200, deadline=None)
@given(findings(), st.lists(st.tuples(st.integers(0, 5), st.booleans()), max_size=4), st.data())
def test_every_chance_stays_strictly_short_of_certainty(finding, outcomes, data):
    steps = []
    for place, bad in dict(outcomes).items():
        if place < len(finding.candidates):
            steps.append(Checked("one", ((str(place), bad),)))
    if data.draw(st.booleans()):
        steps.append(Renewed(("0",)))
    ranking = rank(finding.after(*steps))
    for suspect in ranking.suspects:
        assert 0.0 <= suspect.cause <= suspect.faulty + 1e-12
        assert suspect.faulty < 1.0
        assert math.isfinite(suspect.check_ratio)
    assert 0.0 < ranking.something_else < 1.0 or finding.something_else < 1e-6
    assert 0.0 <= ranking.two_or_more < 1.0
    assert sum(s.cause for s in ranking.suspects) + ranking.something_else >= 1.0 - 1e-9


@settings(max_examples=100, deadline=None)
@given(st.lists(st.lists(st.floats(1e-6, 40.0), min_size=12, max_size=12), min_size=2, max_size=4), leak)
def test_every_stated_chance_lies_within_its_own_range(hazards, something_else):
    candidates = tuple(Candidate(str(i), str(i), np.array(h), 0.5, 1.0, 1.0) for i, h in enumerate(hazards))
    for suspect in rank(FaultFinding("x", candidates, something_else)).suspects:
        assert 0.0 <= suspect.low <= suspect.cause <= suspect.high < 1.0


def test_a_long_tail_does_not_carry_the_chance_out_of_its_range():
    hazards = np.array(
        [1e-6] * 19 + [40.0]
    )  # 19 draws say sound, one says failed: the mean is beyond the 90 % point
    suspect = rank(FaultFinding("x", (Candidate("0", "0", hazards, 1.0, 1.0, 1.0),), 0.5)).of("0")
    assert suspect.low < 1e-5 < suspect.cause == suspect.high


@settings(max_examples=200, deadline=None)
@given(findings())
def test_a_part_that_shows_bad_rises_and_one_that_shows_good_falls_and_the_others_move_the_other_way(finding):
    now = rank(finding)
    bad, good = (rank(finding.after(Checked("one", (("0", shows),)))) for shows in (True, False))
    slack = 1e-9
    assert good.of("0").faulty - slack <= now.of("0").faulty <= bad.of("0").faulty + slack
    assert bad.of("1").faulty - slack <= now.of("1").faulty <= good.of("1").faulty + slack


@settings(max_examples=100, deadline=None)
@given(findings(), st.booleans(), st.booleans())
def test_the_order_in_which_checks_were_made_is_nothing(finding, first, second):
    one, two = Checked("one", (("1", first),)), Checked("two", (("0", second),))
    a, b = rank(finding.after(one, two)), rank(finding.after(two, one))
    for suspect in a.suspects:
        assert math.isclose(suspect.cause, b.of(suspect.part).cause, rel_tol=1e-9, abs_tol=1e-12)


@settings(max_examples=60, deadline=None)
@given(findings(), st.floats(1.5, 5.0))
def test_a_part_that_accrued_more_hazard_is_suspected_more(finding, factor):
    first, *rest = finding.candidates
    more = Candidate(first.part, first.name, first.hazard * factor, first.share, first.money, first.minutes)
    older = FaultFinding("x", (more, *rest), finding.something_else, finding.checks)
    assert rank(older).of("0").cause >= rank(finding).of("0").cause - 1e-12


@settings(max_examples=40, deadline=None)
@given(findings())
def test_outcomes_of_every_action_have_chances_that_sum_to_one_and_never_cost_more_than_handing_over(finding):
    search = Search(finding)
    state = search.start()
    for action in search.actions(state):
        assert math.isclose(sum(b.chance for b in search.branches(state, action)), 1.0, rel_tol=1e-9)
    costs = action_costs(search, state, exact_up_to=50)
    assert min(costs.values()) <= costs[HAND_OVER] == search.hand_over_cost(state)
