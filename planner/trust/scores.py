"""Scores of stated chances, calibration by groups of chance, and errors from drawing the cars anew.

References:
    [1] Brier 1950, Monthly Weather Review 78:1-3; Good 1952, JRSS B 14:107-114 (the logarithmic score).
    [2] Wilson 1927, JASA 22:209-212, with Kish's effective number for unequal weights.
    [3] Breslow & Day 1987, Statistical Methods in Cancer Research II, p. 69 (Byar's limits of a Poisson count).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from planner.trust.values import LEVEL, CalibrationLine, Difference, Range, Scores

if TYPE_CHECKING:
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]
    IntArray = NDArray[np.int64]

LEAST_CHANCE = 1e-6
"""A stated chance is not scored as surer than this, or one surprise would outweigh everything."""

REPETITIONS = 1_000
PARTS_A_LINE = 10
MOST_LINES = 10

_Z = NormalDist().inv_cdf((1.0 + LEVEL) / 2.0)


@dataclass(frozen=True, eq=False)
class Statements:
    """Chances stated and what came, one row for each outcome of a part after a past day; all of shape (n,).

    Attributes:
        car, part: numbers of the car and of the part.
        said: number of the statement; outcomes known only by chance are two rows of one statement.
        chance: stated by the predictions.
        failed: whether it failed within the horizon.
        weight: with censoring weighed out; 0 where the outcome is not known.
    """

    car: IntArray
    part: IntArray
    said: IntArray
    chance: FloatArray
    failed: NDArray[np.bool_]
    weight: FloatArray


def brier(chance: FloatArray, failed: NDArray[np.bool_]) -> FloatArray:
    """Squared distance of each chance from its outcome."""
    return (chance - failed) ** 2


def log_score(chance: FloatArray, failed: NDArray[np.bool_]) -> FloatArray:
    """Minus the natural log of the chance given to what came."""
    kept = np.clip(chance, LEAST_CHANCE, 1.0 - LEAST_CHANCE)
    return -np.log(np.where(failed, kept, 1.0 - kept))


def scores(name: str, chance: FloatArray, made: Statements) -> Scores:
    """Weighted means of both scores; the statements' weights must not sum to 0."""
    total = made.weight.sum()
    return Scores(
        name,
        float(made.weight @ brier(chance, made.failed) / total),
        float(made.weight @ log_score(chance, made.failed) / total),
    )


def difference(name: str, other: FloatArray, made: Statements, seed: int) -> Difference:
    """By how much the predictions beat another way to state chances, with errors by cars drawn anew.

    Args:
        name: of the other way.
        other: its chances.
        made: the statements, with the predictions' own chances.
        seed: of the drawing.
    """
    found, errors = [], []
    for score in (brier, log_score):
        saved = score(other, made.failed) - score(made.chance, made.failed)
        per_car = by_car(made.car, np.column_stack([made.weight * saved, made.weight]))
        again = redrawn(per_car, seed)
        found.append(float(per_car[:, 0].sum() / per_car[:, 1].sum()))
        with np.errstate(invalid="ignore", divide="ignore"):
            ratio = again[:, 0] / again[:, 1]
        errors.append(float(np.nanstd(ratio, ddof=1)) if len(per_car) > 1 else None)
    return Difference(name, found[0], errors[0], found[1], errors[1])


def by_car(car: IntArray, columns: FloatArray) -> FloatArray:
    """Sums of columns over each car, shape (cars, columns)."""
    _, number = np.unique(car, return_inverse=True)
    out = np.zeros((int(number.max()) + 1, columns.shape[1]))
    np.add.at(out, number, columns)
    return out


def redrawn(per_car: FloatArray, seed: int) -> FloatArray:
    """Sums over as many cars drawn with replacement, shape (`REPETITIONS`, columns): the bootstrap by blocks."""
    count = len(per_car)
    draws = np.random.default_rng(seed).multinomial(count, np.full(count, 1.0 / count), REPETITIONS)
    return np.asarray(draws @ per_car, dtype=np.float64)


def calibration(made: Statements) -> tuple[CalibrationLine, ...]:
    """Groups of rising chance, tenths where there are parts enough, with the share of each that failed."""
    known = made.weight > 0.0
    lines = int(np.clip(len(np.unique(made.part[known])) // PARTS_A_LINE, 1, MOST_LINES))
    edges = np.unique(np.quantile(made.chance[known], np.arange(1, lines) / lines))
    group = np.searchsorted(edges, made.chance, side="right")
    return tuple(_line(made, known & (group == number)) for number in np.unique(group[known]))


def _line(made: Statements, rows: NDArray[np.bool_]) -> CalibrationLine:
    weight, chance = made.weight[rows], made.chance[rows]
    share = float(weight @ made.failed[rows] / weight.sum())
    per_part = by_car(made.part[rows], weight[:, None])[:, 0]
    low, high = wilson(share, float(per_part.sum() ** 2 / (per_part**2).sum()))
    return CalibrationLine(
        lowest=float(chance.min()),
        highest=float(chance.max()),
        statements=len(np.unique(made.said[rows])),
        parts=len(per_part),
        stated=float(weight @ chance / weight.sum()),
        observed=Range(share, low, high),
    )


def wilson(share: float, count: float) -> tuple[float, float]:
    """Wilson's limits of a share seen in so many independent parts."""
    middle = (share + _Z**2 / (2.0 * count)) / (1.0 + _Z**2 / count)
    reach = _Z / (1.0 + _Z**2 / count) * math.sqrt(share * (1.0 - share) / count + _Z**2 / (4.0 * count**2))
    return max(min(middle - reach, share), 0.0), min(max(middle + reach, share), 1.0)


def poisson_limits(count: float) -> tuple[float, float]:
    """Byar's limits of the mean behind a count."""
    low = 0.0
    if count > 0.0:
        low = count * max(1.0 - 1.0 / (9.0 * count) - _Z / (3.0 * math.sqrt(count)), 0.0) ** 3
    more = count + 1.0
    return low, more * (1.0 - 1.0 / (9.0 * more) + _Z / (3.0 * math.sqrt(more))) ** 3
