"""What a backtest says: lines per past day, calibration by groups of chance, scores, and what was left out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date

LEVEL = 0.9
"""Level of every range in a backtest."""


@dataclass(frozen=True)
class Range:
    """A figure with its 90 % range; an end is None where the data set no bound."""

    value: float
    low: float | None
    high: float | None


@dataclass(frozen=True)
class OriginLine:
    """One past day from which was predicted.

    Attributes:
        on: the day.
        histories, failures: sums of weights of the spells known then, and of those that had failed.
        parts: parts then in service whose chance could be stated and that were seen again.
        within_horizon: failures expected of them within the whole horizon.
        expected: failures expected in the time for which they were then followed, the horizon at most.
        observed: failures that came in that time (sums of weights).
    """

    on: date
    histories: float
    failures: float
    parts: int
    within_horizon: float
    expected: float
    observed: float


@dataclass(frozen=True)
class CalibrationLine:
    """Parts whose stated chances lie close together.

    Attributes:
        lowest, highest: of the chances stated.
        statements: how many chances; a part counts once for each past day on which it was in service.
        parts: how many parts they are about.
        stated: mean of the chances.
        observed: share that failed within the horizon, censoring weighed out, with Wilson's limits.
    """

    lowest: float
    highest: float
    statements: int
    parts: int
    stated: float
    observed: Range


@dataclass(frozen=True)
class Scores:
    """Mean scores of one way to state chances; smaller is better, 0 is perfect.

    Attributes:
        name: whose chances.
        brier: mean squared distance of chance and outcome (Brier 1950).
        log: mean of minus the natural log of the chance given to what came.
    """

    name: str
    brier: float
    log: float


@dataclass(frozen=True)
class Difference:
    """By how much the predictions beat another way to state chances (above 0: they are better).

    Attributes:
        name: the other way.
        brier, log: its score less the predictions' own.
        brier_error, log_error: standard errors, cars drawn anew as blocks; None with fewer than two cars.
    """

    name: str
    brier: float
    brier_error: float | None
    log: float
    log_error: float | None


@dataclass(frozen=True)
class LeftOut:
    """Why parts, or past days, gave no statement, and how often."""

    reason: str
    count: int


@dataclass(frozen=True)
class Backtest:
    """Predictions made at past days with what was then known, against what came.

    Attributes:
        horizon_years: how far each prediction looks.
        origins: one line per past day.
        parts, cars: distinct ones that statements are about.
        statements: how many chances were stated.
        failures: distinct parts that failed within a horizon.
        censored: distinct parts that were renewed while good, sold or lost sight of within a horizon.
        expected, observed: sums over the past days; a failure counts once for each day that looked ahead to it.
        ratio: observed over expected; 1 is right.
        calibration: lines by rising chance, tenths where there are parts enough.
        scores: of the predictions, the rule of thumb and, with a prior, of the book alone.
        differences: the predictions against each other way.
        rule_of_thumb: the rule in words.
        enough: whether enough failed to judge by.
        verdict: in words.
        left_out: what gave no statement.
        weights_bounded: share of the statements whose censoring weight had to be bounded.
    """

    horizon_years: float
    origins: tuple[OriginLine, ...]
    parts: int
    cars: int
    statements: int
    failures: int
    censored: int
    expected: float
    observed: float
    ratio: Range
    calibration: tuple[CalibrationLine, ...]
    scores: tuple[Scores, ...]
    differences: tuple[Difference, ...]
    rule_of_thumb: str
    enough: bool
    verdict: str
    left_out: tuple[LeftOut, ...]
    weights_bounded: float
