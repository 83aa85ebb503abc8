"""A posterior over many cells, and a sketch of it over few: the search and the draws run on the sketch.

The peak is settled on the fine cells. Around it the sketch is given the fine cells' slope and curvature, so that draws
follow the fine posterior to third order at the price of the sketch.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import TYPE_CHECKING

from planner.errors import FitError
from planner.life.maximise import maximise
from planner.life.problem import Problem

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.history.spells import FloatArray
    from planner.life.maximise import Stationary

_SETTLED = 1e-8
_NEAR = 0.5


@dataclass(frozen=True, eq=False)
class Sketched(Problem):
    """A problem on fine cells whose density is taken from a sketch.

    Attributes:
        sketch: the same problem on few cells.
        at_peak: where the two are made to agree, (p,).
        slope: what the sketch lacks there in slope, (p,).
        curve: what it lacks in curvature, (p, p).
    """

    sketch: Problem
    at_peak: FloatArray
    slope: FloatArray
    curve: FloatArray

    def log_density(self, thetas: FloatArray) -> FloatArray:
        """Log-likelihood plus log prior up to a constant: (m, p) in, (m,) out."""
        off = thetas - self.at_peak
        lacking: FloatArray = off @ self.slope + 0.5 * ((off @ self.curve) * off).sum(axis=1)
        return self.sketch.log_density(thetas) + lacking


def settle(
    fine: Problem, sketch: Problem, search: Callable[[Problem], Stationary]
) -> tuple[Problem, Stationary]:
    """Search on the sketch and climb the rest of the way on the fine cells; search there where that fails.

    Raises:
        FitError: the search on the fine cells found no peak, saying why.
    """
    try:
        rough = search(sketch)
    except FitError:
        return fine, search(fine)
    peak = maximise(fine.at, rough.theta, fine.free)
    if peak is None or not peak.peaked or peak.scaled_gradient(1.0) > _SETTLED:
        return fine, search(fine)
    if abs(peak.theta - rough.theta).max() > _NEAR:
        return fine, search(fine)
    here = sketch.at(peak.theta)
    slope = (peak.gradient - here.gradient * fine.free) * fine.unit
    curve = (-peak.information - here.hessian) * fine.unit
    own = {f.name: getattr(fine, f.name) for f in fields(Problem)}
    return Sketched(**own, sketch=sketch, at_peak=peak.theta, slope=slope, curve=curve), peak
