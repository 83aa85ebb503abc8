"""Answers in the words of the trade: evidence, clocks, distances without false precision."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

from planner.interval.wording import reason_in_words
from planner.units import from_km

if TYPE_CHECKING:
    from collections.abc import Sequence

    from api.bridge.forecasts.clocks import Counted
    from planner.interval import Interval
    from planner.life.model import Evidence
    from planner.units import DistanceUnit

_TENTHS = ("next to none of it", "a tenth of it", "two tenths of it", "three tenths of it", "four tenths of it", "half of it",
           "six tenths of it", "seven tenths of it", "eight tenths of it", "nine tenths of it", "nearly all of it")  # fmt: skip

_SUMS = re.compile(
    r"((?:costs? about|cost more than about|running to failure about|saves about) \d(?:[\d,]*\d)?(?:\.\d+)?)(?![\d,.]*\d)"
)
"""Every way in which the planner names a sum of money in a sentence (a test holds it to the planner's words)."""


def significant(value: float, digits: int = 2) -> float:
    """A number to so many significant figures."""
    if value == 0 or not math.isfinite(value):
        return value
    return round(value, digits - 1 - math.floor(math.log10(abs(value))))


def distance(km: float | None, unit: DistanceUnit, *, step: float | None = None) -> dict[str, Any] | None:
    """A distance in the keeper's unit; None stays None.

    Args:
        km: kilometres.
        unit: "km" or "mi".
        step: rounded to a multiple of it; None: as it is.
    """
    if km is None:
        return None
    value = from_km(km, unit)
    return {"value": value if step is None else round(value / step) * step, "unit": unit}


def interval_words(interval: Interval, clocks: Sequence[str], unit: DistanceUnit) -> str:
    """The interval's reason, its distances in the keeper's unit and rounded there."""
    return reason_in_words(interval, clocks, unit).reason


def repairs_words(since: Counted, unit: DistanceUnit) -> str:
    """What repairs have taken off a part's wear, as a sentence to add; nothing where they took nothing."""
    km, years = since.set_back
    if km == 0.0 and years == 0.0:
        return ""
    off = f"{significant(from_km(km, unit)):,.0f} {unit}" if km > 0.0 else years_words(years)
    return (
        f" Repairs are taken to have made it about {off} less worn than it is old; no limit moves for that."
    )


def priced(text: str, currency: str) -> str:
    """A sentence of the planner, which knows no currency, with the fleet's own behind each sum of money.

    Args:
        text: "it costs about 22 a year, running to failure about 41".
        currency: ISO 4217.
    """
    return _SUMS.sub(rf"\1 {currency}", text)


def evidence_words(evidence: Evidence, *, integrated_over: int = 0, shared_events: int = 0) -> str:
    """How much is book and how much the fleet's own records, in a sentence or two.

    Args:
        evidence: of a life.
        integrated_over: how many of its parts have a day that nobody knows.
        shared_events: how many complaints several parts answered for.
    """
    if evidence.histories == 0:
        return "All book: no history of this kind counts yet."
    histories, failures = _counted(evidence.histories, "history", "histories"), _failures(evidence.failures)
    text = f"{histories} of this fleet, {failures}"
    share = _TENTHS[round(10 * evidence.prior_share)] + " is book" if evidence.prior_share > 0 else "no book"
    return f"{text}; {share}.{_unsure(integrated_over, shared_events)}"


def _unsure(integrated_over: int, shared_events: int) -> str:
    said = ""
    if integrated_over:
        parts = _counted(integrated_over, "part is", "parts are")
        said += f" {parts} of unknown day, averaged over the days that it may have been."
    if shared_events:
        said += f" {_counted(shared_events, 'complaint', 'complaints')} that several parts answered for."
    return said


def clock_words(
    km: float, years: float, unit: DistanceUnit, *, clocks: tuple[str, ...], age_unknown: bool, known: bool
) -> str:
    """Both clocks in a sentence.

    Args:
        km: distance since fitting.
        years: age since fitting.
        unit: the keeper's.
        clocks: the clocks that wear the part.
        age_unknown: nobody knows what it had done before.
        known: whether any odometer figure of the car was ever written.
    """
    far = f"{from_km(km, unit):,.0f}" if km < 100 else f"{significant(from_km(km, unit)):,.0f}"
    text = f"about {far} {unit} and {years_words(years)}"
    if age_unknown:
        text = f"age unknown: at most {text}, and treated as that old"
    if not known:
        text += "; the distance is a guess, as no odometer figure was ever written"
    if len(clocks) == 1:
        text += f"; only {clocks[0]} wears it"
    return text


def years_words(years: float) -> str:
    """An age: months below two years, then years, halves below ten."""
    if years < 2:
        return _counted(round(years * 12), "month", "months")
    if years < 10:
        return f"{round(years * 2) / 2:g} years"
    return f"{years:.0f} years"


def _failures(failures: float) -> str:
    if failures == 0:
        return "none of them failed"
    return f"{_counted(failures, 'failure', 'failures')} among them"


def _counted(count: float, one: str, more: str) -> str:
    whole = round(count)
    if abs(count - whole) > 0.05:
        return f"about {count:.1f} {more}"
    return f"{whole} {one if whole == 1 else more}"
