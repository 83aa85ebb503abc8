"""Laws to draw from in place of a posterior: multivariate t, normal, and mixtures of them in fixed shares."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.history.spells import FloatArray


@dataclass(frozen=True, eq=False)
class StudentT:
    """Multivariate t.

    Attributes:
        centre: (p,).
        root: lower Cholesky root of its scale matrix, (p, p).
        degrees: of freedom; infinite for a normal law.
    """

    centre: FloatArray
    root: FloatArray
    degrees: float

    def draw(self, count: int, random: np.random.Generator) -> FloatArray:
        """Draws, (count, p)."""
        offset = random.standard_normal((count, len(self.centre)))
        if math.isfinite(self.degrees):
            offset *= np.sqrt(self.degrees / random.chisquare(self.degrees, count))[:, None]
        out: FloatArray = self.centre + offset @ self.root.T
        return out

    def log_density(self, at: FloatArray) -> FloatArray:
        """Log density, normalised: (m, p) in, (m,) out."""
        size = len(self.centre)
        away = (np.linalg.solve(self.root, (at - self.centre).T) ** 2).sum(axis=0)
        volume = float(np.log(np.diag(self.root)).sum()) + 0.5 * size * math.log(math.pi)
        if not math.isfinite(self.degrees):
            out: FloatArray = -0.5 * away - volume - 0.5 * size * math.log(2.0)
            return out
        half = 0.5 * (self.degrees + size)
        level = math.lgamma(half) - math.lgamma(0.5 * self.degrees) - 0.5 * size * math.log(self.degrees)
        fall: FloatArray = level - volume - half * np.log1p(away / self.degrees)
        return fall


@dataclass(frozen=True, eq=False)
class Mixture:
    """Laws with their shares, which sum to 1; each gives its share of the draws (Hesterberg 1995)."""

    laws: Sequence[StudentT]
    shares: Sequence[float]

    def draw(self, count: int, random: np.random.Generator) -> FloatArray:
        """Draws, (count, p), one law after another."""
        ends = np.round(np.cumsum(self.shares) * count).astype(int)
        counts = np.diff(ends, prepend=0)
        return np.concatenate([law.draw(int(n), random) for law, n in zip(self.laws, counts, strict=True)])

    def log_density(self, at: FloatArray) -> FloatArray:
        """Log density, normalised: (m, p) in, (m,) out."""
        logs = [
            math.log(s) + law.log_density(at) for law, s in zip(self.laws, self.shares, strict=True) if s > 0
        ]
        out: FloatArray = np.logaddexp.reduce(logs)
        return out


def normal(centre: FloatArray, spread: FloatArray) -> StudentT:
    """Independent normals."""
    return StudentT(centre, np.diag(spread), math.inf)
