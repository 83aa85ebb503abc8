"""What a field wanted, in our words: the checking library speaks of dictionaries, parsing and its own validation."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from api.schemas import NOT_BLANK

if TYPE_CHECKING:
    from collections.abc import Mapping

_PHRASES = re.compile(r"^(Input|Value|String|List|Date|URL)[^,]*? should (be|have|match) ", re.IGNORECASE)

_DATE_MADE = re.compile(r"datetime\.date\((\d+), (\d+), (\d+)\)")

_DAY, _MOMENT = "ISO 8601 such as 2024-05-17", "ISO 8601 such as 2024-05-17T12:00:00Z"

_BY_TYPE = {
    "string_type": "text",
    "string_unicode": "text in UTF-8",
    "string_too_short": "at least {min_length} characters",
    "string_too_long": "at most {max_length} characters",
    "int_type": "a whole number",
    "int_parsing": "a whole number",
    "int_parsing_size": "a whole number of moderate size",
    "int_from_float": "a whole number",
    "float_type": "a number",
    "float_parsing": "a number",
    "finite_number": "a finite number",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "list_type": "a list",
    "too_short": "at least {min_length} in the list",
    "too_long": "at most {max_length} in the list",
    "dict_type": "an object",
    "model_type": "an object",
    "model_attributes_type": "an object",
    "none_required": "null",
    "greater_than": "more than {gt}",
    "greater_than_equal": "at least {ge}",
    "less_than": "less than {lt}",
    "less_than_equal": "at most {le}",
    "date_type": _DAY,
    "date_parsing": _DAY,
    "date_from_datetime_parsing": _DAY,
    "date_from_datetime_inexact": _DAY,
    "datetime_type": _MOMENT,
    "datetime_parsing": _MOMENT,
    "datetime_from_date_parsing": _MOMENT,
    "timezone_aware": _MOMENT,
}


_PATTERN_WORDS = {
    r"^(bad|good)$": '"bad" or "good"',
    r"^[0-9]{4}-W[0-9]{2}$": "an ISO 8601 week such as 2026-W48",
    NOT_BLANK: "some words, without NUL characters",
    r"^[a-z0-9][a-z0-9_]*$": "small letters, digits and underscores, such as timing_belt",
    r"^https?://[!-~]+$": "an address that begins with https://",
    r"[^,\s]": "ids of parts, with commas between them",
}
"""What text of a pattern is, where a person would not read the pattern."""


def _text_like(pattern: str) -> str:
    if "@" in pattern:
        return "a mail address such as name@example.org"
    if pattern.startswith("^((0"):
        return "month and day, such as 04-15"
    return _PATTERN_WORDS.get(pattern, f"text that fits {pattern}")


def of(found: Mapping[str, Any]) -> str:
    """What one of the library's errors says was wanted.

    Args:
        found: as the library describes it: "type", "msg", "ctx".
    """
    if found["type"] == "string_pattern_mismatch":
        return _text_like(str(found["ctx"]["pattern"]))
    words = _BY_TYPE.get(str(found["type"]))
    if words is None:
        return _PHRASES.sub("", str(found["msg"]).removeprefix("Value error, "))
    return _DATE_MADE.sub(_day, words.format_map(found.get("ctx") or {}))


def _day(made: re.Match[str]) -> str:
    year, month, day = map(int, made.groups())
    return f"{year:04d}-{month:02d}-{day:02d}"
