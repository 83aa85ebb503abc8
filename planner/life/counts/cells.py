"""Cells of a grid in logs: weight, mean and covariance of what fell into each, and the few points that stand for it.

A cell is not put at its mean alone: points at mean ± spread along its axes keep its second moments as well, so the
error of a sum over a smooth function falls with the fourth power of the step.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from planner.history.spells import FloatArray

    IntArray = NDArray[np.int64]

_DENSE = 1 << 20
_KEYS = 1 << 62
_POINT = 1e-16


@dataclass(frozen=True, eq=False)
class Cells:
    """What fell into the cells of a grid.

    Attributes:
        weight: sum of weights, (m,).
        mean: weighted mean of every coordinate, (m, d); infinite in a coordinate that is so for the whole cell.
        covariance: weighted covariance about the mean, (m, d, d); zeros in a cell that is one point.
    """

    weight: FloatArray
    mean: FloatArray
    covariance: FloatArray

    @classmethod
    def none(cls, coordinates: int) -> Cells:
        """No cells."""
        return cls(np.zeros(0), np.zeros((0, coordinates)), np.zeros((0, coordinates, coordinates)))

    def __len__(self) -> int:
        return len(self.weight)

    def coarser(self, step: float) -> Cells:
        """The same counts on a grid of that step."""
        return gather(self.weight, self.mean, step, self.covariance)

    def at_most(self, cells: int, step: float) -> Cells:
        """The same counts on the finest grid, of a step or doublings of it, that fills no more than so many cells."""
        out = self
        while len(out) > cells and step <= 1:
            out = out.coarser(step)
            step *= 2
        return out

    def points(self) -> tuple[FloatArray, FloatArray]:
        """Points (n, d) with weights (n,) that have each cell's weight, mean and covariance."""
        variance, axes = np.linalg.eigh(self.covariance)
        wide = variance > _POINT
        count = wide.sum(axis=1)
        reach = np.sqrt(np.where(wide, variance, 0.0) * count[:, None])
        cell, axis = np.nonzero(wide)
        offset = reach[cell, axis, None] * axes[cell, :, axis]
        share = self.weight[cell] / (2 * count[cell])
        alone = count == 0
        where = np.concatenate([self.mean[alone], self.mean[cell] + offset, self.mean[cell] - offset])
        return where, np.concatenate([self.weight[alone], share, share])


def together(parts: Sequence[Cells], step: float) -> Cells:
    """All counts of several sets of cells on one grid."""
    weight, mean, covariance = (
        np.concatenate([getattr(part, name) for part in parts]) for name in ("weight", "mean", "covariance")
    )
    return gather(weight, mean, step, covariance)


def gather(weight: FloatArray, where: FloatArray, step: float, covariance: FloatArray | None = None) -> Cells:
    """Put rows, or cells, into the cells of a grid.

    Args:
        weight: above 0, (n,).
        where: coordinates, (n, d); infinite ones share a cell with infinite ones only.
        step: of the grid.
        covariance: about ``where``, (n, d, d); none for rows.
    """
    size = where.shape[1]
    if not len(weight):
        return Cells.none(size)
    places, offset = _placed(where, step)
    cell, count = _numbered(places)
    sample = np.empty(count, dtype=np.int64)
    sample[cell] = np.arange(len(cell))
    centre = where[sample] - offset[sample]
    total: FloatArray = np.bincount(cell, weight).astype(np.float64, copy=False)
    weighted = [weight * offset[:, i] for i in range(size)]
    shift = np.stack([np.bincount(cell, w) for w in weighted], axis=1) / total[:, None]
    spread = np.empty((count, size, size))
    for i in range(size):
        for j in range(i, size):
            product = weighted[i] * offset[:, j]
            if covariance is not None:
                product += weight * covariance[:, i, j]
            spread[:, i, j] = np.bincount(cell, product) / total - shift[:, i] * shift[:, j]
            spread[:, j, i] = spread[:, i, j]
    return Cells(total, centre + shift, spread)


def _placed(where: FloatArray, step: float) -> tuple[list[IntArray], FloatArray]:
    """Number of the cell along every coordinate, and the distance from its middle (0 for infinite ones)."""
    places: list[IntArray] = []
    offset = np.empty(where.shape, order="F")
    for i in range(where.shape[1]):
        own = where[:, i]
        finite = np.isfinite(own)
        whole = bool(finite.all())
        steps = np.floor((own if whole else np.where(finite, own, 0.0)) / step)
        offset[:, i] = own - (steps + 0.5) * step
        place = steps.astype(np.int64)
        place -= place.min()
        if not whole:
            offset[~finite, i] = 0.0
            top = int(place.max())
            place = np.where(finite, place, np.where(own > 0, top + 1, top + 2))
        places.append(place)
    return places, offset


def _numbered(places: list[IntArray]) -> tuple[IntArray, int]:
    """The number, from 0 without gaps, of the cell that every row falls into, and how many cells there are."""
    key, span = places[0], int(places[0].max()) + 1
    for place in places[1:]:
        width = int(place.max()) + 1
        if span * width > _KEYS:
            key, span = _without_gaps(key, span)
        key, span = key * width + place, span * width
    return _without_gaps(key, span)


def _without_gaps(key: IntArray, span: int) -> tuple[IntArray, int]:
    if span <= _DENSE:
        there = np.zeros(span, dtype=np.int64)
        there[key] = 1
        number = np.cumsum(there) - 1
        return number[key], int(number[-1]) + 1
    known, cell = np.unique(key, return_inverse=True)
    return cell, len(known)
