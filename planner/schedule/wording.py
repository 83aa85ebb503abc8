"""A due window in words: what decides it, and what is not known."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date

    from planner.schedule.due import DueDates, Status

_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip

_BECAUSE = {
    "distance": "by then it will have covered the distance at which renewing pays",
    "age": "by then it will have reached the age at which renewing pays",
    "cap": "the limit of maker or authority falls then, and no evidence lengthens it",
    "risk limit": "from then on its chance of having {ended} since fitting is above the limit set for it",
}
_BECAUSE_NOW = {
    "distance": "it has covered the distance at which renewing pays",
    "age": "it has reached the age at which renewing pays",
    "cap": "it has reached the limit of maker or authority, which no evidence lengthens",
    "risk limit": "its chance of having {ended} since fitting has reached the limit set for it",
}
_LEAVE_IT = "Renewing it before it fails doesn't pay: leave it and carry a spare."
_LEAVE_TO_ITS_LIMIT = "Renewing it before it reaches its limit doesn't pay: check it and use it until then."

_DECADES = 30
_UNKNOWN = "Nobody knows when it was fitted, so it is treated as old."


def due_in_words(dates: DueDates, status: Status, today: date) -> str:
    """One or two plain sentences; months rather than days, years where it is far off."""
    ended = "reached its wear limit" if dates.to_a_limit else "failed"
    if status == "run to failure":
        text = _LEAVE_TO_ITS_LIMIT if dates.to_a_limit else _LEAVE_IT
    elif status == "due now":
        text = f"Due now: {_BECAUSE_NOW[dates.decides].format(ended=ended)}."
    elif dates.likely is not None and dates.likely.year - today.year > _DECADES:
        text = "Nothing to do for decades, as this car is used."
    else:
        text = f"Due {_window(dates, today)}: {_BECAUSE[dates.decides].format(ended=ended)}."
    return f"{text} {_UNKNOWN}" if dates.age_unknown else text


def month_in_words(day: date, today: date) -> str:
    """A day as a month, or as a year where it is over five years off."""
    return f"{_MONTHS[day.month - 1]} {day.year}" if day.year - today.year <= 5 else f"{day.year}"


def _window(dates: DueDates, today: date) -> str:
    if dates.likely is None:
        return "never"
    likely = f"about {month_in_words(dates.likely, today)}"
    if dates.latest is None or dates.earliest is None or dates.latest <= dates.likely:
        return f"{likely}, not later" if dates.decides in {"cap", "risk limit"} else likely
    earliest = "from now" if dates.earliest <= today else f"from {month_in_words(dates.earliest, today)}"
    return f"{likely} ({earliest} to {month_in_words(dates.latest, today)} costs nearly the same)"
