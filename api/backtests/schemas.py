"""Bodies and answers about looking back on predictions."""

from datetime import date, datetime
from typing import Literal

from pydantic import Field

from api.schemas import Answer, Body, PastDate

Every = Literal["month", "quarter", "year"]


class BacktestCreate(Body):
    """How to look back."""

    every: Every = Field(default="quarter", description="past days to predict from: the ends of these")
    horizon_years: float = Field(default=1.0, ge=0.1, le=10, description="how far each prediction looks")
    first: PastDate | None = Field(
        default=None, description="no past day before it; null: since the first part"
    )


class RangeOut(Answer):
    """A figure with its 90 % range; null where the data set no bound."""

    value: float | None
    low: float | None
    high: float | None


class OriginLineOut(Answer):
    """One past day from which was predicted.

    Attributes:
        on: the day.
        histories, failures: known then.
        parts: in service then, with a chance stated, and seen again.
        within_horizon: failures foretold for them within the whole horizon.
        expected: failures foretold for the time for which they were then followed.
        observed: failures that came in that time.
    """

    on: date
    histories: float
    failures: float
    parts: int
    within_horizon: float
    expected: float
    observed: float


class CalibrationLineOut(Answer):
    """Parts whose stated chances lie close together: what was said, and what share of them failed."""

    lowest: float
    highest: float
    statements: int
    parts: int
    stated: float
    observed: RangeOut


class ScoresOut(Answer):
    """Mean scores of one way to state chances; smaller is better."""

    name: str
    brier: float
    log: float


class DifferenceOut(Answer):
    """By how much the predictions beat another way (above 0: better), with standard errors; null from one car alone."""

    name: str
    brier: float
    brier_error: float | None
    log: float
    log_error: float | None


class LeftOutOut(Answer):
    """Why parts on past days gave no statement, and how often."""

    reason: str
    count: int


class FoundOut(Answer):
    """What looking back gave.

    Attributes:
        every, horizon_years, first: as asked for.
        up_to: the day on which was looked back.
        cars_asked: cars that have or had the kind; of very many, so many picked by lot are looked at.
        parts, cars: that statements are about.
        statements: chances stated; a part gives one on each past day in service.
        failures, censored: parts that failed within a horizon; that were renewed while good, sold or lost sight of.
        expected, observed: failures over all past days; one counts for each day that looked ahead to it.
        ratio: observed over expected; 1 is right.
        enough: whether enough failed to judge by.
        rule_of_thumb: the rule that the predictions are held against.
        weights_bounded: share of statements whose censoring weight had to be bounded.
    """

    every: Every
    horizon_years: float
    first: date | None
    up_to: date
    cars_asked: int
    parts: int
    cars: int
    statements: int
    failures: int
    censored: int
    expected: float
    observed: float
    ratio: RangeOut
    enough: bool
    rule_of_thumb: str
    origins: list[OriginLineOut]
    calibration: list[CalibrationLineOut]
    scores: list[ScoresOut]
    differences: list[DifferenceOut]
    left_out: list[LeftOutOut]
    weights_bounded: float


class BacktestOut(Answer):
    """How far the predictions for a kind were right, as last looked back on.

    Attributes:
        found: null: not looked back on yet.
        words: the verdict.
        looked_back_at: when; null likewise.
    """

    kind: str
    part: str
    words: str
    found: FoundOut | None
    looked_back_at: datetime | None
    cautions: list[str]
