"""An interval in one plain sentence, with no more precision than anybody can have."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from planner.interval.odds import odds
from planner.units import DAYS_PER_YEAR, DistanceUnit, from_km

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.interval.advice import Interval

_EXACT = 1e-6
"""Slack of floating point when rounding down what is a whole number."""

BEYOND_PLANNING = 40.0
"""Years beyond which no year is named: nobody plans that far, and nobody knows the car's use then."""


def reason_in_words(interval: Interval, clocks: Sequence[str], unit: DistanceUnit = "km") -> Interval:
    """The same interval with its reason filled in.

    Args:
        interval: in kilometres, as always.
        clocks: of the life.
        unit: in which the keeper reads distances; they are rounded there.
    """
    if interval.run_to_failure:
        return replace(interval, reason=_run_to_failure(interval))
    parts = [f"Renew at {_when(interval, clocks, unit)}", _what_decides(interval), _money(interval)]
    text = ": ".join(parts[:2]) + f"; {parts[2]}"
    extra = [part for part in (_clock(interval, clocks, unit), _slack(interval)) if part]
    return replace(interval, reason="; ".join([text, *extra]) + ".")


def rounded(value: float, *, down: bool = False) -> str:
    """A number to two significant figures (one below 1), with thousands separated: 64,000; 31; 0.4.

    Args:
        value: any number.
        down: never say more than it is, for what must not be passed.
    """
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else "no end"
    digits = 2 if abs(value) >= 1 else 1
    step = 10.0 ** (math.floor(math.log10(abs(value))) - digits + 1)
    steps = value / step
    near = (math.floor(steps + _EXACT) if down else round(steps)) * step
    return f"{near:,.0f}" if near >= 10 else f"{near:.2g}"


def years_in_words(years: float) -> str:
    """An age as the trade says it: weeks below a quarter, months below two years, then years, halves below five."""
    if years < 0.25:
        return _counted(max(1, round(years * 52.18)), "week")
    if years < 2:
        return _counted(round(years * 12), "month")
    if years < 5:
        return f"{round(years * 2) / 2:g} years"
    return f"{years:.0f} years" if years < 100 else f"{rounded(years)} years"


def limit_in_words(years: float) -> str:
    """An age that must not be passed, never rounded up: days, weeks, months, then years and months."""
    months = math.floor(years * 12 + _EXACT)
    if months < 2:
        days = math.floor(years * DAYS_PER_YEAR + _EXACT)
        return _counted(days, "day") if days < 14 else _counted(days // 7, "week")
    if months < 24 or years >= 100:
        return _counted(months, "month") if months < 24 else f"{rounded(years, down=True)} years"
    rest = f" and {_counted(months % 12, 'month')}" if months % 12 else ""
    return f"{months // 12} years{rest}"


def span_in_words(low: float, high: float) -> str:
    """Two ages as a range, the unit said once where it is the same: "8 to 17 years"."""
    first, last = years_in_words(low), years_in_words(high)
    return (
        f"{first.split()[0]} to {last}"
        if first.split()[1][:4] == last.split()[1][:4]
        else f"{first} to {last}"
    )


def _counted(count: int, unit: str) -> str:
    return f"{count} {unit}" if count == 1 else f"{count} {unit}s"


def _when(interval: Interval, clocks: Sequence[str], unit: DistanceUnit) -> str:
    held = interval.bound_by in {"cap", "risk"}
    years = _age(interval.years, held=held)
    if interval.km is None:
        return years
    km = f"about {_far(interval.km, unit, down=held)}"
    if "age" not in clocks:
        return f"{km} ({years} at {_far(interval.km_per_year or 0, unit)} a year)"
    if "distance" not in clocks:
        return f"{years} ({km} at {_far(interval.km_per_year or 0, unit)} a year)"
    return f"{km} or {years}, whichever comes first"


def _age(years: float, *, held: bool) -> str:
    if years > BEYOND_PLANNING:
        return "more years than anybody plans"
    return f"about {limit_in_words(years) if held else years_in_words(years)}"


def _far(km: float, unit: DistanceUnit, *, down: bool = False) -> str:
    return f"{rounded(from_km(km, unit), down=down)} {unit}"


def _what_decides(interval: Interval) -> str:
    if interval.bound_by == "cap":
        return "the maker's or authority's limit decides and nothing lengthens it"
    if interval.bound_by == "risk":
        return f"the limit on risk decides (about {odds(interval.chance_by_then)} would have failed by then)"
    return "cost decides"


def _money(interval: Interval) -> str:
    own, other = rounded(interval.cost_per_year), rounded(interval.cost_run_to_failure)
    return f"it costs about {own} a year, running to failure about {other}"


def _clock(interval: Interval, clocks: Sequence[str], unit: DistanceUnit) -> str:
    if len(clocks) < 2 or interval.wears_most is None:
        return ""
    what = "distance" if interval.wears_most == "distance" else "age"
    use = f"at about {_far(interval.km_per_year, unit)} a year" if interval.km_per_year else "standing still,"
    return f"{use} {what} does most of the wearing"


def _slack(interval: Interval) -> str:
    low, high = interval.within_5_percent
    if interval.bound_by != "cost" or low > BEYOND_PLANNING:
        return ""
    if math.isinf(high) or high > BEYOND_PLANNING:
        return f"waiting longer than {years_in_words(low)} costs little more"
    if years_in_words(low) == years_in_words(high):
        return "there is little slack either way"
    return f"anything from {span_in_words(low, high)} costs nearly the same"


def _run_to_failure(interval: Interval) -> str:
    if interval.cost_run_to_failure == 0:
        return "Leave it: as this car is used, nothing wears the part."
    text = f"Run it to failure and carry a spare: that costs about {rounded(interval.cost_run_to_failure)} a year"
    text += " and renewing early would save next to nothing"
    if interval.flips_at_failure_cost is None:
        return text + ", however dear a failure."
    return (
        text
        + f"; renewing would pay once a failure cost more than about {rounded(interval.flips_at_failure_cost)}."
    )
