"""Several lives fitted at once, each a linear function of shared parameters: groups around their kind, settings of modifiers.

Every life has rows of its own, whose likelihood is known at its own (ln shape, ln scale) per clock, in km and years. A link says how
those follow from the shared parameters, which have one normal prior. Rows that want more than a linear function stand beside the links.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Protocol

import numpy as np

from planner.errors import FitNotConverged, InputError
from planner.history.spells import Spells
from planner.life.counts.binning import BinnedSpells, spell_counts
from planner.life.fit import ACCEPTED_GRADIENT, ROW_BY_ROW
from planner.life.likelihood import Derivatives
from planner.life.maximise import maximise
from planner.life.problem import Problem
from planner.life.terms import terms_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.history.spells import Clock, FloatArray
    from planner.life.joined_rows import JoinedRows
    from planner.life.maximise import Stationary


@dataclass(frozen=True, eq=False)
class OwnRows:
    """The likelihood of one life's rows, with the wall against absurd shapes; parameters in km and years."""

    problem: Problem
    histories: float
    failures: float

    @property
    def clocks(self) -> tuple[Clock, ...]:
        """The clocks, distance first."""
        return self.problem.terms.clocks

    def at(self, theta: FloatArray) -> Derivatives:
        """Value, gradient and Hessian."""
        return self.problem.at(theta - self.problem.terms.shift)

    def values(self, thetas: FloatArray) -> FloatArray:
        """Log-likelihood at many parameter vectors: (m, p) in, (m,) out."""
        return self.problem.log_density(thetas - self.problem.terms.shift)

    def log_likelihood(self, theta: FloatArray) -> float:
        """Log-likelihood, densities per km where distance is the only clock, else per year."""
        return float(self.values(theta[None, :])[0]) + self.problem.terms.density_constant


def own_rows(spells: Spells | BinnedSpells, joined: Sequence[JoinedRows] = ()) -> OwnRows:
    """Gather one life's rows; above 5,000 they are counted in cells, as in :func:`planner.life.fit.fit_life`.

    Raises:
        InputError: neither spells nor counts of them, or joined rows on other clocks.
    """
    if not isinstance(spells, Spells | BinnedSpells):
        raise InputError("spells", "Spells, or BinnedSpells", spells)
    for rows in joined:
        if rows.clocks != spells.clocks:
            raise InputError("joined", f"clocks {' and '.join(spells.clocks)}", rows.clocks)
    if isinstance(spells, Spells) and len(spells) > ROW_BY_ROW:
        spells = spell_counts(spells)
    terms = replace(terms_of(spells) if isinstance(spells, Spells) else spells.terms(), joined=tuple(joined))
    size = 2 * len(terms.clocks)
    none = np.zeros(size)
    problem = Problem(terms, np.ones(size), none, none, 1.0, 1.0 + terms.failures)
    middle = np.zeros(size) + terms.shift
    histories = terms.histories + sum(rows.histories for rows in joined)
    return OwnRows(problem, histories, terms.failures + sum(rows.failed(middle) for rows in joined))


@dataclass(frozen=True, eq=False)
class Link:
    """One life's rows and how its parameters follow from the shared ones: design, (p, shared)."""

    rows: OwnRows
    design: FloatArray


class Beside(Protocol):
    """Rows that speak of the shared parameters themselves."""

    @property
    def failures(self) -> float:
        """Sum of the weights of failed rows."""

    def at(self, shared: FloatArray) -> Derivatives:
        """Value, gradient and Hessian."""

    def values(self, shared: FloatArray) -> FloatArray:
        """Log-likelihood at many: (m, shared) in, (m,) out."""


@dataclass(frozen=True, eq=False)
class Linked:
    """A posterior over shared parameters.

    Attributes:
        links: the lives.
        centre: prior mean, (shared,).
        precision: prior inverse variances, (shared,).
        beside: further rows.
    """

    links: tuple[Link, ...]
    centre: FloatArray
    precision: FloatArray
    beside: tuple[Beside, ...] = ()

    @property
    def unit(self) -> float:
        """Weight that values and slopes are counted per while maximising."""
        own = sum(link.rows.failures for link in self.links) + sum(b.failures for b in self.beside)
        return max(1.0, own)

    def at(self, shared: FloatArray) -> Derivatives:
        """Value, gradient and Hessian per unit."""
        out = Derivatives(len(shared))
        for link in self.links:
            own = link.rows.at(link.design @ shared)
            out.value += own.value
            out.gradient += link.design.T @ own.gradient
            out.hessian += link.design.T @ own.hessian @ link.design
        for rows in self.beside:
            own = rows.at(shared)
            out.value += own.value
            out.gradient += own.gradient
            out.hessian += own.hessian
        off = shared - self.centre
        unit = self.unit
        out.value = (out.value - 0.5 * float(self.precision @ off**2)) / unit
        out.gradient = (out.gradient - self.precision * off) / unit
        out.hessian = (out.hessian - np.diag(self.precision)) / unit
        return out

    def log_density(self, shared: FloatArray) -> FloatArray:
        """Log-likelihood plus log prior up to a constant, in full: (m, shared) in, (m,) out."""
        value = -0.5 * ((shared - self.centre) ** 2) @ self.precision
        for link in self.links:
            value += link.rows.values(shared @ link.design.T)
        for rows in self.beside:
            value += rows.values(shared)
        return np.where(np.isnan(value), -np.inf, value)

    def peak(self, start: FloatArray) -> tuple[Stationary, FloatArray]:
        """Where it is highest, climbing from a start, and the covariance there.

        Raises:
            FitNotConverged: the optimiser stopped short.
        """
        found = maximise(self.at, start)
        if found is None or found.scaled_gradient(1.0) >= ACCEPTED_GRADIENT or not found.peaked:
            raise FitNotConverged("the optimiser stopped short of a peak in a fit of several lives at once")
        return found, inverse(found.information * self.unit)


def inverse(information: FloatArray) -> FloatArray:
    """Inverse of a symmetric positive definite matrix, scaled first."""
    size = np.sqrt(np.diag(information))
    found: FloatArray = np.linalg.inv(information / np.outer(size, size)) / np.outer(size, size)
    return 0.5 * (found + found.T)
