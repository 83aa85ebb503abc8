"""The curve of the records alone, without a law, kept beside a fitted life: made by the refit, only drawn by a read."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from planner.errors import FitError, InputError
from planner.life.nonparametric import Mass, SurvivalCurve, survival_curve

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.history.spells import Clock, FloatArray, Spells

KEY = "records_alone"
"""Where it stands in a stored life's content."""

LEVEL = 0.80
"""Of the curve's own limits: the same as the band of the model that it is held against."""

_FIELDS = {"method", "times", "survival", "lower", "upper", "last"}

MOST_POINTS = 400
"""A picture shows no more; of a longer curve every so many falls are kept."""

MOST_WITH_INTERVALS = 2_000
"""Above so many histories with intervals the estimate would cost more than a picture is worth."""


def records_alone(spells: Spells | None) -> dict[str, Any]:
    """The curve on each clock as JSON: times (km or years), survival with limits, the last look; or why there is none.

    Args:
        spells: what the fit was made from; None: no history gave a row.
    """
    if spells is None:
        return {}
    return {clock: _on_clock(spells.only(clock)) for clock in spells.clocks}


def curve_of(content: Mapping[str, Any], clock: Clock) -> SurvivalCurve | str | None:
    """The kept curve on a clock, or in words why there is none; None where nothing was ever kept in this form."""
    kept = content.get(KEY, {}).get(clock)
    if kept is None or not ("missing" in kept or kept.keys() >= _FIELDS):
        return None
    if "missing" in kept:
        return str(kept["missing"])
    times, survival, lower, upper = (
        np.array(kept[name], dtype=np.float64) for name in ("times", "survival", "lower", "upper")
    )
    last = kept["last"]
    rest = () if last is None else (Mass(last, np.inf, float(survival[-1])),)
    unknown = np.full(len(times), np.nan)
    return SurvivalCurve(times, survival, lower, upper, unknown, rest, kept["method"], LEVEL)


def _on_clock(spells: Spells) -> dict[str, Any]:
    if not (~spells.censored).any():
        return {"missing": "no part on record has failed yet"}
    if spells.interval.any() and len(spells) > MOST_WITH_INTERVALS:
        return {"missing": "there are too many histories whose failure is known only to an interval"}
    if _nobody_watched(spells):
        return {"missing": "all parts seen early had gone before the others came under observation"}
    try:
        curve = survival_curve(spells, level=LEVEL)
    except InputError:
        missing = "some failures are known only to an interval and some parts were seen late; without a law the two do not go together"
        return {"missing": missing}
    except FitError:
        return {"missing": "its estimate did not settle"}
    kept = np.unique(
        np.linspace(0, len(curve.times) - 1, min(MOST_POINTS, len(curve.times))).round().astype(int)
    )
    return {
        "method": curve.method,
        "times": [round(float(t), 3) for t in curve.times[kept]],
        **{name: _plain(getattr(curve, name)[kept]) for name in ("survival", "lower", "upper")},
        "last": next((mass.left for mass in curve.masses if np.isinf(mass.right)), None),
    }


def _plain(values: FloatArray) -> list[float | None]:
    return [round(float(v), 5) if np.isfinite(v) else None for v in values]


def _nobody_watched(spells: Spells) -> bool:
    """Whether at some point before the last one no part is under observation, all of them having entered late.

    There a curve without a law breaks off: what survived the gap is not known (Lawless, Statistical Models and Methods
    for Lifetime Data, 2003, section 3.5, on small risk sets under delayed entry; cited from memory).
    """
    bounds = spells.bounds[0]
    ends = np.sort(np.where(np.isfinite(bounds.upper), bounds.upper, bounds.lower))
    entered = np.searchsorted(np.sort(bounds.entry), ends, side="right")
    gone = np.searchsorted(ends, ends, side="right")
    return bool(((entered == gone) & (ends < ends[-1])).any())
