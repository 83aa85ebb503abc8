"""From the statements of all past days to one account: expected against observed, calibration, scores, a verdict."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.trust.scores import (
    Statements,
    by_car,
    calibration,
    difference,
    poisson_limits,
    redrawn,
    scores,
)
from planner.trust.values import LEVEL, Backtest, Range
from planner.trust.weights import censoring_weights, groups_of_chance
from planner.trust.words import verdict

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from planner.trust.collecting import Collected, Statement

ENOUGH_FAILURES = 10
"""Failed parts below which nothing is concluded, and the ratio's range comes from their count alone."""

ENOUGH_CARS = 5


def summed_up(collected: Collected, horizon_years: float, step_years: float, seed: int) -> Backtest:
    """The account of all past days.

    Args:
        collected: their statements, at least one.
        horizon_years: how far each prediction looked.
        step_years: how far the days are apart.
        seed: of the cars drawn anew.
    """
    told = collected.statements
    made, bounded = _statements(told)
    others = {"rule of thumb": _column(told, "rule"), "the book alone": _column(told, "book")}
    others = {name: chances for name, chances in others.items() if not np.isnan(chances).any()}
    known = made.weight.sum() > 0.0
    failed = len({one.part for one in told if one.outcome.ending == "failed"})
    expected = float(_column(told, "expected").sum())
    observed = sum(one.outcome.weight for one in told if one.outcome.ending == "failed")
    ratio = _ratio(told, failed, expected, observed, max(1.0, horizon_years / step_years), seed)
    differences = tuple(difference(name, other, made, seed) for name, other in others.items() if known)
    enough = failed >= ENOUGH_FAILURES
    return Backtest(
        horizon_years=horizon_years,
        origins=tuple(collected.lines),
        parts=len(set(made.part)),
        cars=len(set(made.car)),
        statements=sum(line.parts for line in collected.lines),
        failures=failed,
        censored=len({one.part for one in told if one.outcome.ending == "left"}),
        expected=expected,
        observed=observed,
        ratio=ratio,
        calibration=calibration(made) if known else (),
        scores=tuple(scores(name, c, made) for name, c in {"predictions": made.chance, **others}.items())
        if known
        else (),
        differences=differences,
        rule_of_thumb=collected.rule_words,
        enough=enough,
        verdict=verdict(failed, ratio, differences, enough=enough),
        left_out=collected.left_out(),
        weights_bounded=float(bounded.mean()),
    )


def _statements(told: Sequence[Statement]) -> tuple[Statements, NDArray[np.bool_]]:
    chance, weight = _column(told, "chance"), np.array([one.outcome.weight for one in told])
    left = np.array([one.outcome.ending == "left" for one in told])
    group = groups_of_chance(chance, left, weight)
    weighed, bounded = censoring_weights(_column(told, "years"), left, weight, group)
    failed = np.array([one.outcome.ending == "failed" for one in told])
    car, part, said = (
        _numbers(names)
        for names in (
            [one.car for one in told],
            [one.part for one in told],
            [f"{one.on} {one.part}" for one in told],
        )
    )
    return Statements(car, part, said, chance, failed, weighed), bounded


def _column(told: Sequence[Statement], name: str) -> NDArray[np.float64]:
    return np.array([getattr(one, name) for one in told], dtype=np.float64)


def _numbers(names: Sequence[str]) -> NDArray[np.int64]:
    _, number = np.unique(names, return_inverse=True)
    return np.asarray(number, dtype=np.int64)


def _ratio(
    told: Sequence[Statement], failed: int, expected: float, observed: float, looks: float, seed: int
) -> Range:
    """Observed over expected, in the wider of two ranges: that of a count, and that of the cars drawn anew where there are enough.

    A failure counts once for every past day that looked ahead to it, so a count of failed parts stands for `looks` times as many.
    """
    if expected <= 0.0:
        return Range(np.inf if observed else 1.0, None, None)
    each = observed / failed if failed else looks
    low, high = (each * limit / expected for limit in poisson_limits(float(failed)))
    pairs = [[one.outcome.weight * (one.outcome.ending == "failed"), one.expected] for one in told]
    per_car = by_car(_numbers([one.car for one in told]), np.array(pairs))
    if failed >= ENOUGH_FAILURES and len(per_car) >= ENOUGH_CARS:
        again = redrawn(per_car, seed)
        ends = np.quantile(again[:, 0] / again[:, 1], [(1.0 - LEVEL) / 2.0, (1.0 + LEVEL) / 2.0])
        low, high = min(low, float(ends[0])), max(high, float(ends[1]))
    return Range(observed / expected, low, high)
