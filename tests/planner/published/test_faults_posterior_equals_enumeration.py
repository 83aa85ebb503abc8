"""Closed-form posteriors against a brute-force enumeration of the joint model, written independently beside it."""

import numpy as np
import pytest

from planner.faults.joint import evidence_probability, joint
from planner.faults.picture import picture_after
from planner.faults.values import Candidate, Check, Checked, FaultFinding, Reading, Renewed
from tests.planner.published.enumerated_faults import enumerate_faults, enumerate_sets


def random_case(rng, n, renewals, together=0):
    p = rng.uniform(0.001, 0.6, n) ** rng.choice([1, 3])
    c = rng.uniform(0.02, 0.95, n)
    pi0 = rng.uniform(0.0, 0.1, n)
    leak = float(rng.uniform(0.001, 0.3))
    quality = {f"check {k}": (float(rng.uniform(0.5, 0.97)), float(rng.uniform(0.6, 0.99))) for k in range(3)}
    groups = {
        f"group {k}": (float(rng.uniform(0.5, 0.97)), float(rng.uniform(0.6, 0.99))) for k in range(together)
    }
    looks_at = {g: tuple(sorted(rng.choice(n, min(n, 2 + k), replace=False))) for k, g in enumerate(groups)}
    plan = ["check"] * int(rng.integers(0, 6)) + ["renew"] * renewals + list(groups)
    rng.shuffle(plan)
    steps, brute, seen = [], [], set()
    for kind in plan:
        i = int(rng.integers(n))
        if kind == "renew":
            chosen = tuple(sorted({i, int(rng.integers(n))})) if rng.random() < 0.3 else (i,)
            steps.append(Renewed(tuple(str(j) for j in chosen)))
            brute.append(("renew", chosen))
            seen = {(name, j) for name, j in seen if j not in chosen}
        elif kind in groups:
            bad = bool(rng.random() < 0.7)
            steps.append(Checked(kind, bad))
            brute.append(("group", looks_at[kind], bad, *groups[kind]))
        else:
            name, bad = f"check {int(rng.integers(3))}", bool(rng.random() < 0.4)
            if (name, i) in seen:
                continue
            seen.add((name, i))
            steps.append(Checked(name, ((str(i), bad),)))
            brute.append(("check", i, bad, *quality[name]))
    parts = tuple(Candidate(str(i), f"part {i}", -np.log1p(-p[i]), c[i], 50, 30, pi0[i]) for i in range(n))
    checks = tuple(Check(k, k, tuple(Reading(str(i), *v) for i in range(n))) for k, v in quality.items())
    checks += tuple(
        Check(g, g, tuple(Reading(str(i), *v) for i in looks_at[g]), one_result=True)
        for g, v in groups.items()
    )
    finding = FaultFinding("rough", parts, leak, checks, tuple(steps))
    return finding, [{"p": p[i], "c": c[i], "pi0": pi0[i]} for i in range(n)], leak, brute


@pytest.mark.parametrize("seed", range(60))
def test_every_chance_equals_enumeration_with_checks_and_renewals_in_any_order(seed):
    rng = np.random.default_rng(seed)
    finding, parts, leak, brute = random_case(
        rng, n=int(rng.integers(1, 5)), renewals=int(rng.integers(0, 4))
    )
    expected = enumerate_faults(parts, leak, brute)
    got = joint(picture_after(finding))
    assert got.evidence == pytest.approx(expected["evidence"], rel=1e-11)
    scale = expected["evidence"]
    assert np.allclose(np.array(got.faulty) / scale, np.array(expected["faulty"]) / scale, rtol=0, atol=1e-9)
    assert np.allclose(np.array(got.cause) / scale, np.array(expected["cause"]) / scale, rtol=0, atol=1e-9)
    assert got.something_else_alone / scale == pytest.approx(
        expected["something_else_alone"] / scale, abs=1e-9
    )
    assert got.at_most_one / scale == pytest.approx(expected["at_most_one"] / scale, abs=1e-9)
    assert evidence_probability(picture_after(finding)) == pytest.approx(scale, rel=1e-11)


@pytest.mark.parametrize("seed", range(20))
def test_without_renewals_it_is_the_formula_over_sets_of_faults(seed):
    rng = np.random.default_rng(1000 + seed)
    n = int(rng.integers(2, 11))
    finding, parts, leak, brute = random_case(rng, n=n, renewals=0)
    readings = [step[1:] for step in brute]
    evidence, faulty = enumerate_sets([q["p"] for q in parts], [q["c"] for q in parts], leak, readings)
    got = joint(picture_after(finding))
    assert got.evidence == pytest.approx(evidence, rel=1e-11)
    assert np.allclose(np.array(got.faulty) / got.evidence, np.array(faulty) / evidence, rtol=0, atol=1e-9)


def test_draws_are_weighted_by_how_well_each_explains_the_evidence():
    hazards = [np.array([0.02, 0.2]), np.array([0.1, 0.03])]
    parts = tuple(Candidate(str(i), str(i), hazards[i], 0.5 + 0.2 * i, 50, 30) for i in range(2))
    check = Check("look", "look", (Reading("0", 0.7, 0.9),))
    got = joint(
        picture_after(FaultFinding("rough", parts, 0.05, (check,), (Checked("look", (("0", True),)),)))
    )
    per_draw = [
        enumerate_sets([-np.expm1(-h[d]) for h in hazards], [0.5, 0.7], 0.05, [(0, True, 0.7, 0.9)])
        for d in (0, 1)
    ]
    mixture = sum(f[0] for _, f in per_draw) / sum(e for e, _ in per_draw)
    mean_of_ratios = np.mean([f[0] / e for e, f in per_draw])
    assert np.sum(got.faulty[0]) / np.sum(got.evidence) == pytest.approx(mixture, abs=1e-12)
    assert abs(mixture - mean_of_ratios) > 0.01  # the tempting shortcut gives another answer
