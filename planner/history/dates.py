"""Days nobody is sure of: ISO 8601-2 text to the earliest, likely and latest day, and back.

Own parser of the small part of ISO 8601-2 (levels 0 and 1) that garage papers need. The general library for the purpose,
`edtf` 5.0.2, was tried and set aside: 2 to 4 ms for each date (an import of 100,000 records would spend minutes on its
grammar), winter cut to the December of its year, and "about May 1998" widened by a year and a month.
"""

from __future__ import annotations

import calendar
import re
from dataclasses import dataclass
from datetime import date, timedelta

from planner.errors import RecordError
from planner.units import DAYS_PER_YEAR

FIRST_MOTOR_CAR = date(1886, 1, 29)
"""The day of the first motor-car patent: nothing was fitted to a car before it; stands for "no lower bound"."""

_FORMS = (
    "a date as ISO 8601-2 text: 1998-05-17, 1998-05, 1998, 1998~ (about), 1998? (doubtful), 1998% (both), "
    "1987-21 (spring; 22 summer, 23 autumn, 24 winter), 198X, 1985/1989, ../1990 or 1990/.."
)
_POINT = re.compile(
    r"(?P<year>\d{4}|\d{3}X|\d{2}XX)(?:-(?P<month>\d{2}|XX)(?:-(?P<day>\d{2}|XX))?)?(?P<doubt>[~?%]?)",
    re.ASCII,
)
_SEASON_START = {
    **dict(zip((21, 22, 23, 24), (3, 6, 9, 12), strict=True)),
    **dict(zip((25, 26, 27, 28), (3, 6, 9, 12), strict=True)),  # northern, said expressly
    **dict(zip((29, 30, 31, 32), (9, 12, 3, 6), strict=True)),  # southern
    **dict(zip((33, 34, 35, 36), (1, 4, 7, 10), strict=True)),  # quarters
}
_DOUBT_UNITS = {"": 0, "~": 1, "?": 1, "%": 2}
_OPEN_ENDS = ("", "..")


@dataclass(frozen=True)
class UncertainDate:
    """A day known exactly, roughly, or only within bounds.

    ISO 8601-2 gives no width to "about" and "doubtful". Here each widens the date by one unit of its own precision on
    either side (a year, a season, a month, a week for a day), both together by two: common practice, no source. A winter
    is the one that begins in its year (December to February); seasons are the meteorologists', northern unless the code
    says otherwise.

    Attributes:
        earliest: first day that fits the text; `FIRST_MOTOR_CAR` where the text leaves the start open.
        likely: the middle of the range; where one end is open, the end that is known.
        latest: last day that fits the text; `date.max` where the text leaves the end open.
        text: what was written, as `str()` gives it back.
    """

    earliest: date
    likely: date
    latest: date
    text: str

    @classmethod
    def parse(cls, text: str, field: str = "date") -> UncertainDate:
        """Read ISO 8601-2 text.

        Args:
            text: one of the forms named in the error's `wanted`.
            field: name that an error should carry.

        Raises:
            RecordError: the text is no such date, the day does not exist, or the range runs backwards.
        """
        if not isinstance(text, str):
            raise RecordError(field, _FORMS, text)
        written = text.strip()
        start, slash, end = written.partition("/")
        try:
            first, last = _range(start, end) if slash else _point(written)
        except (ValueError, OverflowError):
            raise RecordError(field, _FORMS, text) from None
        if first > last:
            raise RecordError(field, "a range that runs forwards, earlier/later", text)
        if last < FIRST_MOTOR_CAR:
            raise RecordError(field, f"a day since the first motor car, {FIRST_MOTOR_CAR}", text)
        first = max(first, FIRST_MOTOR_CAR)
        return cls(first, _likely(first, last), last, written)

    @classmethod
    def on(cls, day: date) -> UncertainDate:
        """A day known exactly."""
        return cls(day, day, day, day.isoformat())

    @property
    def exact(self) -> bool:
        """True where one single day fits."""
        return self.earliest == self.latest

    @property
    def open_start(self) -> bool:
        """True where no lower bound is known."""
        return self.earliest == FIRST_MOTOR_CAR

    @property
    def open_end(self) -> bool:
        """True where no upper bound is known."""
        return self.latest == date.max

    @property
    def width_years(self) -> float:
        """Length of the range in years; 0 for an exact day."""
        return (self.latest - self.earliest).days / DAYS_PER_YEAR

    def within(self, earliest: date | None = None, latest: date | None = None) -> UncertainDate | None:
        """Narrow the range by what else is known (built, date code, bought); None where nothing is left."""
        first = self.earliest if earliest is None else max(self.earliest, earliest)
        last = self.latest if latest is None else min(self.latest, latest)
        if first > last:
            return None
        if (first, last) == (self.earliest, self.latest):
            return self
        likely = self.likely if first <= self.likely <= last and not self.open_start else _likely(first, last)
        return UncertainDate(first, likely, last, self.text)

    def __str__(self) -> str:
        return self.text


def years_between(start: date, end: date) -> float:
    """Age in years from one day to another (days / 365.25; negative where `end` comes first)."""
    return (end - start).days / DAYS_PER_YEAR


def _likely(first: date, last: date) -> date:
    if first == FIRST_MOTOR_CAR:
        return last
    if last == date.max:
        return first
    return first + timedelta(days=(last - first).days // 2)


def _range(start: str, end: str) -> tuple[date, date]:
    if start in _OPEN_ENDS and end in _OPEN_ENDS:
        raise ValueError("open at both ends")
    first = FIRST_MOTOR_CAR if start in _OPEN_ENDS else _point(start)[0]
    last = date.max if end in _OPEN_ENDS else _point(end)[1]
    return first, last


def _point(text: str) -> tuple[date, date]:
    match = _POINT.fullmatch(text)
    if match is None:
        raise ValueError(text)
    units = _DOUBT_UNITS[match["doubt"]]
    year, month, day = match["year"], match["month"], match["day"]
    if "X" in year:
        if month is not None:
            raise ValueError("a masked year stands alone")
        return _masked_years(year, units)
    if month in (None, "XX"):
        if day not in (None, "XX"):
            raise ValueError("a day without its month")
        return date(int(year) - units, 1, 1), date(int(year) + units, 12, 31)
    return _in_year(int(year), int(month), day, units)


def _masked_years(year: str, units: int) -> tuple[date, date]:
    masked = 10 ** year.count("X")
    first = int(year.replace("X", "0"))
    return date(first - units * masked, 1, 1), date(first + (units + 1) * masked - 1, 12, 31)


def _in_year(year: int, month: int, day: str | None, units: int) -> tuple[date, date]:
    if month in _SEASON_START:
        if day is not None:
            raise ValueError("a season has no days")
        start = _SEASON_START[month]
        return _month_start(year, start - 3 * units), _month_end(year, start + 2 + 3 * units)
    if not 1 <= month <= 12:
        raise ValueError("no such month")
    if day in (None, "XX"):
        return _month_start(year, month - units), _month_end(year, month + units)
    on = date(year, month, int(day))
    return on - timedelta(weeks=units), on + timedelta(weeks=units)


def _month_start(year: int, month: int) -> date:
    extra, index = divmod(month - 1, 12)
    return date(year + extra, index + 1, 1)


def _month_end(year: int, month: int) -> date:
    start = _month_start(year, month)
    return start.replace(day=calendar.monthrange(start.year, start.month)[1])
