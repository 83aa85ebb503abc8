"""JSON's own types, kept apart where pydantic would convert one into another.

A client that sends "5" for 5 or true for 1 has a fault, and the OpenAPI document says that it is refused. Pydantic's
strict mode cannot be used for that: with values that are parsed already it refuses dates written as text too.
"""

from __future__ import annotations

import re
from datetime import date, datetime
from typing import Annotated, Any, Literal, get_args, get_origin

_WORDS: dict[Any, str] = {bool: "true or false", int: "a whole number", float: "a number", str: "text"}
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_MOMENT = re.compile(r"\d{4}-\d{2}-\d{2}[Tt]\d{2}:\d{2}(:\d{2}(\.\d+)?)?([Zz]|[+-]\d{2}:\d{2})", re.ASCII)


def unconverted(value: Any, annotation: Any) -> Any:
    """The value as it came, if it is of a JSON type that the annotation takes.

    Args:
        value: from parsed JSON.
        annotation: of a field; only plain types, dates and moments in it are judged.

    Raises:
        ValueError: in words, what is wanted.
    """
    kinds = _kinds(annotation) - {type(None)}
    if kinds & {date, datetime}:
        _written_out(value, kinds)
    elif kinds <= _WORDS.keys() and not _taken(value, kinds):
        raise ValueError(" or ".join(sorted(_WORDS[kind] for kind in kinds)))
    return value


def written_day(value: Any) -> Any:
    """A day as it came, if it is written out.

    Raises:
        ValueError: it is written otherwise.
    """
    _written_out(value, {date})
    return value


def _kinds(annotation: Any) -> set[Any]:
    """The types in an annotation such as ``Annotated[float, …] | None``."""
    origin, inner = get_origin(annotation), get_args(annotation)
    if origin is Literal:
        return {type(value) for value in inner}
    if origin is Annotated:
        return _kinds(inner[0])
    return set().union(*map(_kinds, inner)) if inner else {annotation}


def _taken(value: Any, kinds: set[Any]) -> bool:
    """Whether plain types take a value; what is neither text, number nor truth is left to pydantic."""
    if isinstance(value, bool):
        return bool in kinds
    if isinstance(value, str):
        return str in kinds
    return not isinstance(value, (int, float)) or bool(kinds & {int, float})


def _written_out(value: Any, kinds: set[Any]) -> None:
    """Let through only days and moments written as RFC 3339 has them."""
    if value is None or isinstance(value, date):
        return
    form, example = (_MOMENT, "2024-05-17T12:00:00Z") if datetime in kinds else (_DAY, "2024-05-17")
    if not isinstance(value, str) or not form.fullmatch(value.strip()):
        raise ValueError(f"ISO 8601 such as {example}")
