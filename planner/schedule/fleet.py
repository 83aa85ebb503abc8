"""Replanning many parts of one kind at once: own path, interval and due days as array arithmetic."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from planner.errors import UsageError
from planner.schedule.arithmetic import Driven, DueDays, Fitted, Numbers, Rules, due_days
from planner.schedule.own_path import rate_on_own_path
from planner.units import DAYS_PER_YEAR

if TYPE_CHECKING:
    from planner.interval import Cap, IntervalColumns, IntervalTable

Array = NDArray[np.float64]

Columns = TypeVar("Columns", Fitted, Driven)

_AT_ONCE = 32_768
_AT_RISK, _AT_CAP = 1, 2


@dataclass(frozen=True)
class FleetDue:
    """Due days of many parts, and the intervals behind them, each array of the parts' shape.

    Attributes:
        days: due days.
        years: age at renewal of each part's own interval.
        km: distance at renewal.
        cost_per_year: expected cost per year of the advice.
        cost_run_to_failure: of running to failure.
        chance_by_then: chance that a part fails between fitting and renewal.
    """

    days: DueDays
    years: Array
    km: Array
    cost_per_year: Array
    cost_run_to_failure: Array
    chance_by_then: Array


def replan(table: IntervalTable, parts: Fitted, use: Driven, cap: Cap) -> FleetDue:
    """Due days of all parts of one kind, in pieces that fit the processor's cache.

    Each part is judged at the yearly distance of its own path; a part of unknown age at its earliest possible fitting
    and lowest odometer. One cap for all: parts with a stricter one of their own go in a call of their own.

    Raises:
        UsageError: the arrays do not broadcast to one dimension.
    """
    count = _count(parts, use)
    cuts = [slice(first, first + _AT_ONCE) for first in range(0, count, _AT_ONCE)]
    return _joined([_piece(table, _cut(parts, at), _cut(use, at), cap) for at in cuts])


def _piece(table: IntervalTable, parts: Fitted, use: Driven, cap: Cap) -> FleetDue:
    unknown = np.asarray(parts.age_unknown, dtype=bool)
    fitted = np.where(unknown, parts.early, parts.likely)
    ran = np.asarray(use.km) - np.where(unknown, parts.km_low, parts.km_likely)
    aged = (np.asarray(use.as_of) - fitted) / DAYS_PER_YEAR
    found = table.columns(rate_on_own_path(table, km=ran, years=aged, km_per_year=use.km_per_year))
    days = due_days(parts, use, rules_of(found, _limit(cap.km), _limit(cap.years)))
    return FleetDue(
        days, found.years, found.km, found.cost_per_year, found.cost_run_to_failure, found.chance_by_then
    )


def rules_of(found: IntervalColumns, cap_km: Numbers, cap_years: Numbers) -> Rules:
    """The rules that intervals of a table make, with hard caps; infinite where there is none."""
    return Rules(
        km=found.km,
        years=found.years,
        low_years=np.where(np.isinf(found.years), np.inf, found.low_years),
        high_years=found.high_years,
        at_risk_limit=found.bound_by == _AT_RISK,
        at_cap=found.bound_by == _AT_CAP,
        distance_wears_most=found.distance_wears_most,
        cap_km=cap_km,
        cap_years=cap_years,
    )


def _limit(value: float | None) -> float:
    return np.inf if value is None else value


def _count(parts: Fitted, use: Driven) -> int:
    columns = [np.asarray(getattr(of, field.name)) for of in (parts, use) for field in fields(of)]
    try:
        shape = np.broadcast_shapes(*(column.shape for column in columns))
    except ValueError as error:
        raise UsageError("parts", "arrays of one length", str(error)) from None
    if len(shape) > 1:
        raise UsageError("parts", "arrays of one dimension", shape)
    return shape[0] if shape else 1


def _cut(of: Columns, at: slice) -> Columns:
    """The same columns, arrays cut to a piece and single values left as they are."""
    cut = {field.name: getattr(of, field.name) for field in fields(of)}
    return replace(of, **{name: value[at] if np.ndim(value) else value for name, value in cut.items()})


def _joined(pieces: list[FleetDue]) -> FleetDue:
    days = DueDays(
        **{field.name: _stacked([p.days for p in pieces], field.name) for field in fields(DueDays)}
    )
    rest = {field.name: _stacked(pieces, field.name) for field in fields(FleetDue) if field.name != "days"}
    return FleetDue(days=days, **rest)


def _stacked(pieces: list[Any], name: str) -> Any:
    return np.concatenate([np.atleast_1d(getattr(piece, name)) for piece in pieces])
