"""Survival curves that assume no law: Kaplan-Meier, life table and Turnbull, through lifelines.

Conventions: an exact failure at t is a mass at t; an interval row is (lower, upper]; a right-censored row is
(lower, inf), so a part censored at t was still at risk of a failure at t.

References:
    [1] Kaplan & Meier 1958, JASA 53:457-481; Greenwood 1926 for the standard error.
    [2] Turnbull 1974, JASA 69:169-173; 1976, JRSS B 38:290-295.
    [3] Lawless 2003, Statistical Models and Methods for Lifetime Data, section 3.6 (life tables), 3.5 (truncation).
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from planner.errors import FitNotConverged, NobodyWatched, SpellError
from planner.history.spells import Spells
from planner.life.life_point import check_level
from planner.life.second_opinions.risk_sets import nobody_left

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from planner.history.spells import ClockBounds, FloatArray

_TOLERANCE = 1e-5


@dataclass(frozen=True)
class Mass:
    """A share of failures that lies in (left, right], or at ``right`` where both are equal."""

    left: float
    right: float
    mass: float


@dataclass(frozen=True, eq=False)
class SurvivalCurve:
    """A survival curve without a law behind it.

    Attributes:
        times: where the curve stands after a fall, km or years, rising, (n,).
        survival: its value there, (n,).
        lower: pointwise limits of survival, (n,); nan for Turnbull, which has no simple standard error.
        upper: likewise.
        standard_error: Greenwood's, (n,); nan for Turnbull.
        masses: where failures lie, and what share; a last one with right = inf holds what is never seen to fail.
        method: "Kaplan-Meier", "life table" or "Turnbull".
        level: of the limits.
    """

    times: FloatArray
    survival: FloatArray
    lower: FloatArray
    upper: FloatArray
    standard_error: FloatArray
    masses: tuple[Mass, ...]
    method: str
    level: float

    def at(self, t: ArrayLike) -> FloatArray:
        """Survival at t; inside a Turnbull interval, where the curve is not determined, its value at the left end."""
        return np.concatenate([[1.0], self.survival])[
            np.searchsorted(self.times, np.asarray(t), side="right")
        ]


def survival_curve(spells: Spells, *, level: float = 0.95) -> SurvivalCurve:
    """Estimate survival on one clock without assuming a law.

    Kaplan-Meier where every failure is exact, with delayed entry and weights. Where failures lie in intervals that no
    other row's bounds cut, the life table, which is Kaplan-Meier on the intervals' right ends. Else Turnbull's
    estimate.

    Args:
        spells: on one clock.
        level: of the pointwise limits (log-log of Greenwood's variance).

    Raises:
        SpellError: spells on two clocks, or delayed entry where Turnbull would be needed.
        NobodyWatched: at some reading no part was left under observation, and others came later.
        FitNotConverged: Turnbull's iteration stopped short of the maximum.
    """
    check_level(level)
    if not isinstance(spells, Spells) or len(spells.clocks) != 1:
        raise SpellError(
            "spells", "one clock at a time: spells.only('distance') or spells.only('age')", spells
        )
    bounds = spells.bounds[0]
    if (bounds.entry > 0).any():
        _check_watched(bounds)
    if not spells.interval.any():
        return _product_limit(bounds, spells.weight, level, "Kaplan-Meier")
    if _uncut(bounds, ~spells.censored):
        return _product_limit(bounds, spells.weight, level, "life table")
    if (bounds.entry > 0).any():
        raise SpellError(
            "entry", "0 in every row: Turnbull's estimate here knows no delayed entry", bounds.entry
        )
    return _turnbull(bounds, spells.weight, level)


def _check_watched(bounds: ClockBounds) -> None:
    """Refuse parts of which at some reading none is left while others come under observation later."""
    ends = np.where(np.isfinite(bounds.upper), bounds.upper, bounds.lower)
    gap = nobody_left(bounds.entry, ends)
    if gap is not None:
        raise NobodyWatched(gap)


def _uncut(bounds: ClockBounds, failed: np.ndarray[Any, np.dtype[np.bool_]]) -> bool:
    """Whether no bound of any row lies strictly inside a failure's interval."""
    ends = np.unique(np.concatenate([bounds.entry, bounds.lower, bounds.upper[failed]]))
    after_lower = np.searchsorted(ends, bounds.lower[failed], side="right")
    at_upper = np.searchsorted(ends, bounds.upper[failed], side="left")
    return bool((at_upper <= after_lower).all())


def _product_limit(bounds: ClockBounds, weight: FloatArray, level: float, method: str) -> SurvivalCurve:
    from lifelines import KaplanMeierFitter  # noqa: PLC0415 - loaded only when needed

    failed = np.isfinite(bounds.upper)
    end = np.where(failed, bounds.upper, bounds.lower)
    kept = end > 0
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        fitter = KaplanMeierFitter(alpha=1 - level).fit(
            end[kept], failed[kept], entry=bounds.entry[kept], weights=weight[kept]
        )
    table = fitter.event_table
    fell = table["observed"].to_numpy() > 0
    at = table.index.to_numpy(dtype=np.float64)[fell]
    survival = fitter.survival_function_at_times(at).to_numpy(dtype=np.float64)
    limits = fitter.confidence_interval_.reindex(at).to_numpy(dtype=np.float64)
    deaths = table["observed"].to_numpy(dtype=np.float64)[fell]
    at_risk = (table["at_risk"] - table["entrance"]).to_numpy(dtype=np.float64)[fell]
    lefts = bounds.lower[failed][np.lexsort((-bounds.lower[failed], bounds.upper[failed]))]
    starts = lefts[np.searchsorted(np.sort(bounds.upper[failed]), at)]
    return SurvivalCurve(
        at,
        survival,
        *_limits(limits, survival),
        _greenwood(survival, deaths, at_risk),
        _masses(starts, at, survival, float(end.max())),
        method,
        level,
    )


def _limits(limits: FloatArray, survival: FloatArray) -> tuple[FloatArray, FloatArray]:
    gone = survival <= 0
    return np.where(gone, 0.0, limits[:, 0]), np.where(gone, np.nan, limits[:, 1])


def _greenwood(survival: FloatArray, deaths: FloatArray, at_risk: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore", invalid="ignore"):
        variance = np.cumsum(deaths / (at_risk * (at_risk - deaths)))
        error: FloatArray = np.where(survival > 0, survival * np.sqrt(variance), np.nan)
    return error


def _masses(starts: FloatArray, ends: FloatArray, survival: FloatArray, last: float) -> tuple[Mass, ...]:
    falls = -np.diff(np.concatenate([[1.0], survival]))
    found = [Mass(float(a), float(b), float(m)) for a, b, m in zip(starts, ends, falls, strict=True)]
    rest = float(survival[-1]) if len(survival) else 1.0
    if rest > 0:
        found.append(Mass(last, np.inf, rest))
    return tuple(found)


def _turnbull(bounds: ClockBounds, weight: FloatArray, level: float) -> SurvivalCurve:
    """Turnbull's estimate on ranks: lifelines takes closed intervals, and ranks turn (a, b] into one exactly."""
    from lifelines.fitters.npmle import npmle  # noqa: PLC0415 - loaded only when needed

    finite = np.concatenate([bounds.lower, bounds.upper[np.isfinite(bounds.upper)]])
    ticks = np.concatenate([np.unique(finite), [np.inf]])
    left = 2 * np.searchsorted(ticks, bounds.lower) + (bounds.lower < bounds.upper)
    right = 2 * np.searchsorted(ticks, bounds.upper)
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")
        share, spans = npmle(left, right, weights=weight / weight.sum(), tol=1e-14)
    _check_maximum(left, right, weight, share, spans)
    kept = share > 1e-9
    lefts = np.array([ticks[span.left // 2] for span in spans])[kept]
    rights = np.array([ticks[span.right // 2] for span in spans])[kept]
    share = share[kept] / share[kept].sum()
    inside = np.isfinite(rights)
    survival = np.maximum(1 - np.cumsum(share[inside]), 0.0)
    unknown = np.full(len(survival), np.nan)
    masses = tuple(Mass(float(a), float(b), float(m)) for a, b, m in zip(lefts, rights, share, strict=True))
    return SurvivalCurve(rights[inside], survival, unknown, unknown, unknown, masses, "Turnbull", level)


def _check_maximum(left: Any, right: Any, weight: FloatArray, share: FloatArray, spans: Any) -> None:
    """At the maximum no span's score is above 1, and a span with mass scores 1 (Gentleman & Geyer 1994)."""
    starts, ends = np.array([s.left for s in spans]), np.array([s.right for s in spans])
    covers = (starts >= left[:, None]) & (ends <= right[:, None])
    score = (weight / weight.sum() / (covers @ share)) @ covers
    if not (score.max() <= 1 + _TOLERANCE and np.abs(share * (score - 1)).max() <= _TOLERANCE):
        raise FitNotConverged("Turnbull's iteration stopped short of the maximum")
