"""Counts of spells from sums by cell that a database has grouped, so that no row ever has to leave it.

A row of a group is one cell: sums over the spells that fall into it. With w the weight of a spell and x, y logs of its
readings, a group has the columns ``w`` = Σw, ``w_x`` = Σw·x and ``w_x_y`` = Σw·x·y, for every x and every pair x, y
(x = y included, x before y as listed below). The cells are those of floor(x·16) in every x of the group (a finer grid
does no harm). An x that a spell does not have is null, and null is a cell of its own.

==================  ==========================================  ==================================================
group               which spells                                x
==================  ==========================================  ==================================================
``km_ends``         km_lower > km_entry                         ``km``: ln km_lower
``km_entries``      km_lower > km_entry > 0                     ``km``: ln km_entry
``years_ends``      years_lower > years_entry                   ``years``: ln years_lower
``years_entries``   years_lower > years_entry > 0               ``years``: ln years_entry
``exact``           lower = upper on every clock                ``km``: ln km_upper, null at 0; ``years``: ln
                                                                years_upper; ``rate``: ln km_per_year, null at 0
``intervals``       failed (upper not infinite), not exact      ``km``: ln km_upper, null where km_upper = km_lower;
                                                                ``km_width``: ln(ln km_upper - ln km_lower), null
                                                                there and where km_lower = 0; ``years`` and
                                                                ``years_width`` likewise
==================  ==========================================  ==================================================

So ``exact`` on both clocks has ``w``, ``w_km``, ``w_years``, ``w_rate``, ``w_km_km``, ``w_km_years``, ``w_km_rate``,
``w_years_years``, ``w_years_rate``, ``w_rate_rate``. On one clock the other clock's groups and x fall away, and so
does ``rate``. A group without rows may be left out; the ends of a clock only where neither an exact failure nor an
entry counts on it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.errors import InputError
from planner.life.checks import positive
from planner.life.counts.binning import BinnedSpells
from planner.life.counts.cells import Cells

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from numpy.typing import ArrayLike

    from planner.history.spells import Clock, FloatArray

    Group = Mapping[str, ArrayLike]

_NAMES = {"distance": "km", "age": "years"}
_NULLABLE = {"exact": ("km", "rate"), "intervals": ("km", "km_width", "years", "years_width")}
_POINT = 1e-9
"""Variances below this are rounding of the sums: the cell is one point."""


def group_columns(clocks: Sequence[Clock]) -> dict[str, tuple[str, ...]]:
    """The columns of every group, in order, for spells on these clocks."""
    return {group: ("w", *_columns(names)) for group, names in _coordinates(clocks).items()}


def counts_from_groups(
    clocks: Sequence[Clock],
    groups: Mapping[str, Group],
    *,
    histories: float,
    tied: bool = False,
) -> BinnedSpells:
    """Counts of spells from grouped sums.

    Args:
        clocks: "distance", "age" or both, in that order.
        groups: column arrays (n,) by group and column, as the module says; None or nan stands for null.
        histories: sum of the weights of all spells, those that never moved included.
        tied: whether km over years is the same in every reading of every spell (to 1e-9 of its log); on two clocks.

    Returns:
        Counts for :func:`planner.life.fit.fit_life`.

    Raises:
        InputError: a group or column that is not known, missing, of another length or not a sum over weights above 0, a
            variance below 0, or groups that contradict each other or the histories.
    """
    wanted = _coordinates(clocks)
    if not wanted or tuple(clocks) not in (("distance",), ("age",), ("distance", "age")):
        raise InputError("clocks", "distance, age or both, in that order", clocks)
    for group in groups:
        if group not in wanted:
            raise InputError("groups", f"groups {', '.join(wanted)}", group)
    cells = {group: _cells(group, names, groups.get(group, {})) for group, names in wanted.items()}
    _check_together(cells, clocks, groups, positive("histories", histories))
    sides = [_NAMES[clock] for clock in clocks]
    return BinnedSpells(
        tuple(clocks),
        tuple(cells[f"{side}_ends"] for side in sides),
        tuple(cells[f"{side}_entries"] for side in sides),
        _at_zero(cells["exact"]),
        _bounded(cells["intervals"]),
        float(histories),
        tied,
    )


def _check_together(
    cells: Mapping[str, Cells], clocks: Sequence[Clock], given: Collection[str], histories: float
) -> None:
    """What the groups say of each other: rows left out of one still count in another."""
    weight = {group: float(own.weight.sum()) for group, own in cells.items()}
    slack = 1e-6 * histories
    failures = weight["exact"] + weight["intervals"]
    if failures > histories + slack:
        raise InputError("histories", f"at least the weights of all failures, {failures:g}", histories)
    for number, side in enumerate(_NAMES[clock] for clock in clocks):
        ends, entries = f"{side}_ends", f"{side}_entries"
        failed = float(cells["exact"].weight[~np.isnan(cells["exact"].mean[:, number])].sum())
        if ends not in given and max(failed, weight[entries]) > 0:
            raise InputError(ends, "the group: failures or entries count on that clock", None)
        if weight[ends] > histories + slack:
            raise InputError("histories", f"at least the weights of {ends}, {weight[ends]:g}", histories)
        if weight[entries] > weight[ends] + slack:
            raise InputError(
                entries, f"weights that are among those of {ends}, {weight[ends]:g}", weight[entries]
            )


def _check_spread(group: str, names: Sequence[str], mean: FloatArray, covariance: FloatArray) -> None:
    """Sums over rows have no variance below 0, and no covariance beyond what the variances allow."""
    slack = _POINT * (1 + np.where(np.isfinite(mean), mean, 0.0) ** 2)
    for i, one in enumerate(names):
        variance = covariance[:, i, i]
        if (variance < -slack[:, i]).any():
            raise InputError(
                f"{group}.w_{one}_{one}", "sums of squares: no variance below 0", float(variance.min())
            )
        for j in range(i):
            most = np.sqrt(np.maximum(variance, 0) * np.maximum(covariance[:, j, j], 0))
            beyond = np.abs(covariance[:, i, j]) - most - np.sqrt(slack[:, i] * slack[:, j])
            if (beyond > 0).any():
                raise InputError(
                    f"{group}.w_{names[j]}_{one}",
                    "sums of products: no correlation beyond 1",
                    float(beyond.max()),
                )


def _coordinates(clocks: Sequence[Clock]) -> dict[str, tuple[str, ...]]:
    sides = [_NAMES[clock] for clock in clocks if clock in _NAMES]
    found: dict[str, tuple[str, ...]] = {
        f"{side}_{kind}": (side,) for side in sides for kind in ("ends", "entries")
    }
    found["exact"] = (*sides, *(("rate",) if len(sides) > 1 else ()))
    found["intervals"] = tuple(name for side in sides for name in (side, f"{side}_width"))
    return found


def _columns(names: Sequence[str]) -> tuple[str, ...]:
    pairs = [f"w_{one}_{two}" for i, one in enumerate(names) for two in names[i:]]
    return (*(f"w_{name}" for name in names), *pairs)


def _cells(group: str, names: Sequence[str], given: Group) -> Cells:
    """Weight, mean and covariance of every cell; nan in a coordinate that is null."""
    size = len(names)
    if not given:
        return Cells.none(size)
    column = _read(group, ("w", *_columns(names)), given)
    weight = column["w"]
    if not (np.isfinite(weight) & (weight > 0)).all():
        raise InputError(f"{group}.w", "finite sums above 0", weight)
    for name in names:
        if name not in _NULLABLE.get(group, ()) and np.isnan(column[f"w_{name}"]).any():
            raise InputError(f"{group}.w_{name}", "no null", None)
    mean = np.stack([column[f"w_{name}"] / weight for name in names], axis=1)
    covariance = np.zeros((len(weight), size, size))
    for i, one in enumerate(names):
        for j in range(i, size):
            about = column[f"w_{one}_{names[j]}"] / weight - mean[:, i] * mean[:, j]
            covariance[:, i, j] = covariance[:, j, i] = np.where(np.isnan(about), 0.0, about)
    _check_spread(group, names, mean, covariance)
    narrow = np.einsum("nii->ni", covariance) < _POINT
    covariance[narrow[:, :, None] | narrow[:, None, :]] = 0.0
    return Cells(weight, mean, covariance)


def _read(group: str, names: Sequence[str], given: Group) -> dict[str, FloatArray]:
    if unknown := [name for name in given if name not in names]:
        raise InputError(group, f"columns {', '.join(names)}", unknown[0])
    found: dict[str, FloatArray] = {}
    for name in names:
        if name not in given:
            raise InputError(f"{group}.{name}", "a column of sums", None)
        try:
            found[name] = np.array(given[name], dtype=np.float64)
        except (TypeError, ValueError) as error:
            raise InputError(f"{group}.{name}", "numbers, or null", given[name]) from error
        if found[name].shape != (len(np.atleast_1d(found["w"])),) or np.isinf(found[name]).any():
            raise InputError(f"{group}.{name}", "finite numbers or null, as many as of w", given[name])
    return found


def _at_zero(exact: Cells) -> Cells:
    """Null logs of exact failures are logs of 0."""
    return Cells(exact.weight, np.where(np.isnan(exact.mean), -np.inf, exact.mean), exact.covariance)


def _bounded(intervals: Cells) -> Cells:
    """A null reading has stood still; a null width beside a reading reaches down to 0."""
    mean = intervals.mean.copy()
    upper, width = mean[:, 0::2], mean[:, 1::2]
    still = np.isnan(upper)
    if (still & ~np.isnan(width)).any():
        raise InputError("intervals", "a null width where the reading is null", width[still])
    mean[:, 1::2] = np.where(still, -np.inf, np.where(np.isnan(width), np.inf, width))
    mean[:, 0::2] = np.where(still, 0.0, upper)
    return Cells(intervals.weight, mean, intervals.covariance)
