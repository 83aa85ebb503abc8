"""One group's rows averaged over where its ln scales may stand around those of the kind, and draws of where they do stand.

For many parameter vectors of the kind at once: the peak is found by Newton steps on differences, the average taken by Gauss-Hermite
quadrature around it (adaptive, after Naylor & Smith 1982, Applied Statistics 31:214-225), a draw picked from candidates around it by weight.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np

if TYPE_CHECKING:
    from planner.history.spells import FloatArray
    from planner.life.groups.linked_lives import OwnRows
    from planner.life.likelihood import Derivatives

_STEPS = 3
_APART = 0.6
_FARTHEST = 2.5
_NODES = {1: 9, 2: 5}
_CANDIDATES = 24
_REACH = 1.3


class Likelihood(Protocol):
    """What is asked of a group's rows."""

    def values(self, thetas: FloatArray) -> FloatArray:
        """Log-likelihood at many parameter vectors: (m, p) in, (m,) out."""


@dataclass(frozen=True, eq=False)
class Quadratic:
    """Rows by their quadratic around a point: for groups so large that nothing else is left of them."""

    theta: FloatArray
    own: Derivatives

    @classmethod
    def around(cls, rows: OwnRows, theta: FloatArray) -> Quadratic:
        """The quadratic that touches the rows' log-likelihood at a point."""
        return cls(theta, rows.at(theta))

    def values(self, thetas: FloatArray) -> FloatArray:
        """See :class:`Likelihood`."""
        off = thetas - self.theta
        found: FloatArray = self.own.value + off @ self.own.gradient
        found += 0.5 * np.einsum("mi,ij,mj->m", off, self.own.hessian, off)
        return found


@dataclass(frozen=True, eq=False)
class Around:
    """Where a group's ln scales stand, for each parameter vector of the kind: peak (m, clocks) and scale there (m, clocks, clocks)."""

    rows: Likelihood
    kind: FloatArray
    spread: FloatArray
    centre: FloatArray
    root: FloatArray

    def log_density(self, steps: FloatArray) -> FloatArray:
        """Log of likelihood times the groups' normal law at peak + scale·step: (m, k, clocks) in, (m, k) out."""
        where = self.centre[:, None, :] + np.einsum("mij,mkj->mki", self.root, steps)
        count = steps.shape[1]
        thetas = np.repeat(self.kind[:, None, :], count, axis=1)
        thetas[:, :, 1::2] = where
        off = (where - self.kind[:, None, 1::2]) / self.spread[:, None, :]
        values = self.rows.values(thetas.reshape(-1, thetas.shape[2])).reshape(-1, count)
        found: FloatArray = values - 0.5 * (off**2).sum(axis=2) - np.log(self.spread).sum(axis=1)[:, None]
        return found

    def log_average(self) -> FloatArray:
        """Log of the average over the group's ln scales, up to a constant, (m,)."""
        size = self.centre.shape[1]
        x, w = np.polynomial.hermite.hermgauss(_NODES[size])
        nodes = np.stack(np.meshgrid(*[x] * size, indexing="ij"), axis=-1).reshape(-1, size)
        log_w = np.log(w)
        log_w = log_w if size == 1 else (log_w[:, None] + log_w).ravel()
        steps = np.broadcast_to(np.sqrt(2) * nodes, (len(self.kind), *nodes.shape))
        logs = self.log_density(steps) + log_w + (nodes**2).sum(axis=1)
        top = logs.max(axis=1)
        found: FloatArray = top + np.log(np.exp(logs - top[:, None]).sum(axis=1))
        found += np.linalg.slogdet(self.root)[1]
        return found

    def draw(self, random: np.random.Generator) -> FloatArray:
        """The group's parameters, one draw for each parameter vector of the kind: (m, p)."""
        size = self.centre.shape[1]
        steps = _REACH * random.standard_normal((len(self.kind), _CANDIDATES, size))
        logs = self.log_density(steps) + 0.5 * (steps**2).sum(axis=2) / _REACH**2
        mass = np.cumsum(np.exp(logs - logs.max(axis=1, keepdims=True)), axis=1)
        chance = random.random(len(mass)) * mass[:, -1]
        picked = np.minimum((mass < chance[:, None]).sum(axis=1), _CANDIDATES - 1)
        step = steps[np.arange(len(steps)), picked]
        out = self.kind.copy()
        out[:, 1::2] = self.centre + np.einsum("mij,mj->mi", self.root, step)
        return out


def around(rows: Likelihood, kind: FloatArray, spread: FloatArray, near: Quadratic) -> Around:
    """Find where a group's ln scales stand.

    Args:
        rows: the group's.
        kind: parameters of the kind, (m, p); the group shares their shapes.
        spread: standard deviation of the group's ln scales around the kind's, (m, clocks).
        near: the quadratic of the same rows around some likely point, to begin from.
    """
    size = spread.shape[1]
    values, axes = np.linalg.eigh(-near.own.hessian[1::2, 1::2])
    curve = (axes * np.maximum(values, 1e-3)) @ axes.T
    pull = near.own.gradient[1::2] + (kind[:, 0::2] - near.theta[0::2]) @ near.own.hessian[0::2, 1::2]
    pull = pull + curve @ near.theta[1::2] + kind[:, 1::2] / spread**2
    information = curve + np.eye(size) / spread[:, None, :] ** 2
    centre = np.linalg.solve(information, pull[:, :, None])[:, :, 0]
    reach = 4 * np.sqrt(spread**2 + np.diag(np.linalg.inv(curve)))
    centre = np.clip(centre, kind[:, 1::2] - reach, kind[:, 1::2] + reach)
    found = Around(rows, kind, spread, centre, _root(information))
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        for _ in range(_STEPS):
            found = _better(found)
    return found


def _better(now: Around) -> Around:
    """One Newton step, from differences, and the scale that the curve there asks for."""
    size = now.centre.shape[1]
    ways = [np.zeros(size)]
    for clock in range(size):
        ways += [_APART * np.eye(size)[clock], -_APART * np.eye(size)[clock]]
    if size == 2:
        ways += [np.full(2, _APART), np.full(2, -_APART)]
    values = now.log_density(np.broadcast_to(np.stack(ways), (len(now.kind), len(ways), size)))
    here = values[:, 0]
    slope = np.stack([values[:, 1 + 2 * c] - values[:, 2 + 2 * c] for c in range(size)], axis=1) / (
        2 * _APART
    )
    curve = np.zeros((len(here), size, size))
    for c in range(size):
        curve[:, c, c] = (2 * here - values[:, 1 + 2 * c] - values[:, 2 + 2 * c]) / _APART**2
    if size == 2:
        cross = values[:, 1:5].sum(axis=1) - 2 * here - values[:, 5] - values[:, 6]
        curve[:, 0, 1] = curve[:, 1, 0] = cross / (2 * _APART**2)
    curve = _tame(curve)
    slope = np.where(np.isfinite(slope), slope, 0.0)
    step = np.linalg.solve(curve, slope[:, :, None])[:, :, 0]
    step *= np.minimum(1.0, _FARTHEST / np.maximum(np.linalg.norm(step, axis=1), 1e-12))[:, None]
    centre = now.centre + np.einsum("mij,mj->mi", now.root, step)
    return Around(now.rows, now.kind, now.spread, centre, now.root @ _root(curve))


def _tame(curve: FloatArray) -> FloatArray:
    """Information kept between a sixteenth and sixteen times what it was, so that no step runs away."""
    sound = np.all(np.abs(curve) < 1e12, axis=(1, 2), keepdims=True)
    values, axes = np.linalg.eigh(np.where(sound, curve, np.eye(curve.shape[1])))
    values = np.clip(values, 1 / 16, 16.0)
    found: FloatArray = np.einsum("mij,mj,mkj->mik", axes, values, axes)
    return found


def _root(information: FloatArray) -> FloatArray:
    found: FloatArray = np.linalg.cholesky(np.linalg.inv(information))
    return found
