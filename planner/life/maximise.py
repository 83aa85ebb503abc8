"""Newton's method in a trust region for functions of a few parameters with their own gradient and Hessian."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.history.spells import BoolArray, FloatArray
    from planner.life.likelihood import Derivatives

    Objective = Callable[[FloatArray], Derivatives]
    """Value, gradient and Hessian at a point."""

_LONGEST_STEP = 64.0
_NOISE = 1e-11
_FLAT = 1e-14
"""Slopes below this, relative to the value, are rounding: a peak, or a slope that has run out on its way to nowhere."""


@dataclass(frozen=True, eq=False)
class Stationary:
    """Where a search ended.

    Attributes:
        theta: the parameters, (p,).
        value: the objective there.
        gradient: (p,), zero in the parameters held fixed.
        information: minus the Hessian, (p, p).
        free: which parameters were free, (p,).
    """

    theta: FloatArray
    value: float
    gradient: FloatArray
    information: FloatArray
    free: FloatArray

    def scaled_gradient(self, unit: float) -> float:
        """Largest slope over the parameters, per ``unit`` of weight."""
        return float(np.abs(self.gradient).max()) / unit

    @property
    def peaked(self) -> bool:
        """Whether the information about the free parameters is positive definite."""
        free = self.free > 0
        block = self.information[np.ix_(free, free)]
        size = np.sqrt(np.abs(np.diag(block)))
        if not (np.diag(block) > 0).all():
            return False
        return bool(np.linalg.eigvalsh(block / np.outer(size, size))[0] > 1e-9)


def maximise(
    objective: Objective, start: FloatArray, free: FloatArray | None = None, *, steps: int = 2000
) -> Stationary | None:
    """Climb from a start to a stationary point.

    Args:
        objective: value, gradient and Hessian at a point; not finite where it may not go.
        start: (p,).
        free: 1 for parameters that move, 0 for those held; all move where left out.
        steps: most steps to take.

    Returns:
        Where it ended, converged or not; None if the start itself is not finite.
    """
    mask = np.ones(len(start)) if free is None else np.asarray(free, dtype=np.float64)
    theta, here = start, objective(start)
    if not here.finite:
        return None
    radius = 1.0
    for _ in range(steps):
        if np.abs(here.gradient * mask).max() < _FLAT * (1 + abs(here.value)):
            break
        step, gain = _step(here, mask, radius)
        if gain <= 0 or np.abs(step).max() < 1e-13 * (1 + np.abs(theta).max()):
            break
        there = objective(theta + step)
        verdict = _judge(here, there, gain, mask)
        if verdict == "stop":
            break
        length = float(np.linalg.norm(step))
        if verdict == "refuse":
            radius = length / 4
            continue
        if length > 0.9 * radius:
            radius = min(2 * radius, _LONGEST_STEP)
        theta, here = theta + step, there
    return Stationary(theta, here.value, here.gradient * mask, -here.hessian, mask)


def _step(here: Derivatives, mask: FloatArray, radius: float) -> tuple[FloatArray, float]:
    """Newton step in the eigenbasis of the Hessian, uphill along every axis, cut to the radius; expected gain."""
    gradient = here.gradient * mask
    information = -here.hessian * np.outer(mask, mask)
    curve, basis = np.linalg.eigh(information)
    slope = basis.T @ gradient
    floor = max(1e-150, 1e-12 * float(np.abs(curve).max()))
    along = slope / np.maximum(np.abs(curve), floor)
    length = float(np.linalg.norm(along))
    if length > radius:
        along = along * (radius / length)
    gain = float(slope @ along - 0.5 * along @ (curve * along))
    return (basis @ along) * mask, gain


def _judge(here: Derivatives, there: Derivatives, gain: float, mask: FloatArray) -> str:
    """Take the step, refuse it, or stop because value and slope are down to rounding."""
    if not there.finite:
        return "refuse"
    if gain < _NOISE * (1 + abs(here.value)):
        falls = np.abs(there.gradient * mask).max() < np.abs(here.gradient * mask).max()
        return "take" if falls else "stop"
    return "take" if there.value - here.value > 0.05 * gain else "refuse"


def inverse(information: FloatArray, free: BoolArray | None = None) -> FloatArray:
    """The covariance that an information matrix gives, symmetric to the last digit; 0 for what is not free.

    Args:
        information: positive definite in what is free, (p, p).
        free: which parameters are, (p,); None: all.
    """
    out = np.zeros_like(information)
    chosen = np.ones(len(information), dtype=np.bool_) if free is None else free
    block = information[np.ix_(chosen, chosen)]
    size = np.sqrt(np.diag(block))
    found = np.linalg.inv(block / np.outer(size, size)) / np.outer(size, size)
    out[np.ix_(chosen, chosen)] = 0.5 * (found + found.T)
    return out
