"""Two independent Weibull clocks: cumulative hazard, hazard and chance of failing, for any set of parameters.

Parameters stand as columns (ln shape, ln scale) per clock present, distance first. The cumulative hazards of the
clocks add (a poly-Weibull); survival is exp(-cumulative hazard).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import numbers
from planner.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from planner.history.spells import Clock, FloatArray

Unit = {"distance": "km", "age": "years"}


def clock_values(
    clocks: Sequence[Clock], given: dict[str, ArrayLike | None], *, prefix: str = "", finite: bool = False
) -> list[FloatArray]:
    """Check the caller's clock arguments: exactly the model's clocks, each number at least 0.

    Args:
        clocks: the model's clocks.
        given: what the caller gave by unit ("km", "years").
        prefix: put before the unit in an error, as "more_".
        finite: whether infinity is refused.

    Raises:
        InputError: an argument is missing, is not of this model, or holds numbers that make no sense.
    """
    wanted = [Unit[clock] for clock in clocks]
    for unit, values in given.items():
        if unit not in wanted and values is not None:
            raise InputError(prefix + unit, f"nothing: this life runs on {' and '.join(clocks)}", values)
    values = [_numbers(prefix + unit, given[unit], finite=finite) for unit in wanted]
    same_shape([prefix + unit for unit in wanted], values)
    return values


def cumulative_hazard(parameters: FloatArray, points: Sequence[FloatArray]) -> FloatArray:
    """Expected number of failures by the given clocks; parameters broadcast against points by their last axis."""
    total: FloatArray = np.zeros(())
    ndim = max(v.ndim for v in points)
    with np.errstate(divide="ignore", over="ignore"):
        for clock, values in enumerate(points):
            shape, log_scale = _columns(parameters, clock, ndim)
            total = total + np.exp(shape * (np.log(values) - log_scale))
    return total


def hazard_per_year(
    parameters: FloatArray, points: Sequence[FloatArray], rates: Sequence[FloatArray]
) -> FloatArray:
    """Hazard per year on a path that moves each clock at its rate (km per year; 1 for age)."""
    total: FloatArray = np.zeros(())
    ndim = max(v.ndim for v in (*points, *rates))
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        for clock, (values, rate) in enumerate(zip(points, rates, strict=True)):
            shape, log_scale = _columns(parameters, clock, ndim)
            scale = np.exp(log_scale)
            own = shape / scale * np.power(values / scale, shape - 1)
            total = total + np.where(np.equal(rate, 0), 0.0, rate * own)
    return total


def hazard_between(
    parameters: FloatArray, now: Sequence[FloatArray], more: Sequence[FloatArray]
) -> FloatArray:
    """Cumulative hazard between the clocks ``now`` and ``now + more``, without cancellation."""
    total: FloatArray = np.zeros(())
    ndim = max(v.ndim for v in (*now, *more))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        for clock, (start, step) in enumerate(zip(now, more, strict=True)):
            shape, log_scale = _columns(parameters, clock, ndim)
            stretch = np.where(step > 0, np.log1p(step / start), 0.0)
            end = np.exp(shape * (np.log(start + step) - log_scale))
            gone = -np.expm1(-shape * stretch)
            total = total + np.where(gone > 0, end * gone, 0.0)
    return total


def same_shape(names: Sequence[str], values: Sequence[FloatArray]) -> None:
    """Refuse arrays that do not broadcast against each other."""
    try:
        np.broadcast_shapes(*(v.shape for v in values))
    except ValueError as error:
        shapes = ", ".join(str(v.shape) for v in values)
        raise InputError(", ".join(names), "arrays that broadcast against each other", shapes) from error


def _columns(parameters: FloatArray, clock: int, ndim: int) -> tuple[FloatArray, FloatArray]:
    if parameters.ndim == 1:
        return np.exp(parameters[2 * clock]), parameters[2 * clock + 1]
    lead = (len(parameters),) + (1,) * ndim
    return np.exp(parameters[:, 2 * clock]).reshape(lead), parameters[:, 2 * clock + 1].reshape(lead)


def _numbers(name: str, values: ArrayLike | None, *, finite: bool) -> FloatArray:
    if values is None:
        raise InputError(name, "a number or an array: this life runs on that clock", None)
    found = numbers(name, values, "a number or an array of numbers")
    bad = ~(found >= 0) | (np.isinf(found) if finite else False)
    if np.any(bad):
        wanted = "finite numbers of at least 0" if finite else "numbers of at least 0"
        raise InputError(name, wanted, float(found[bad].flat[0]) if found.ndim else float(found))
    return found
