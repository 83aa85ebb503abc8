"""Evidence that stays rows in a fit: parts of unknown fitting day, and complaints that several parts answered for.

Both are sums inside a logarithm, so they cannot be binned. Each kind of row adds its log-likelihood and derivatives to a fit.

References:
    [1] Kalbfleisch & Lawless 1992 (truncation). The spread is over fitting *days*: ∫π·L_from_new / ∫π·S(entry).
    [2] Usher & Hodgson 1988, IEEE Trans. Reliability 37:550-555 (masked causes).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

import numpy as np

from planner.errors import SpellError
from planner.history.spells import Spells
from planner.life.likelihood import in_steps
from planner.life.row_parts import (
    Parts,
    RowLogs,
    from_new_parts,
    from_new_values,
    hazard_parts,
    hazard_values,
    log_rate_parts,
    log_rate_values,
    log_sum,
    log_sum_values,
    logs_of,
)
from planner.life.terms import log_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from planner.history.spells import Clock, FloatArray
    from planner.history.undated import UndatedSpells
    from planner.life.likelihood import Derivatives
    from planner.life.row_parts import IntArray


class JoinedRows(Protocol):
    """Rows that add to a fit; parameters are (ln shape, ln scale) per clock in km and years."""

    @property
    def clocks(self) -> tuple[Clock, ...]:
        """The clocks, distance first."""

    @property
    def histories(self) -> float:
        """Sum of the weights of the rows."""

    def failed(self, theta: FloatArray) -> float:
        """How many failures of this kind the rows hold, at these parameters."""

    def add_to(self, out: Derivatives, theta: FloatArray) -> None:
        """Add value, gradient and Hessian at one parameter vector."""

    def log_likelihood(self, thetas: FloatArray) -> FloatArray:
        """Log-likelihood at many: (m, p) in, (m,) out."""


@dataclass(frozen=True, eq=False)
class UndatedRows:
    """Parts whose fitting or removal day is spread over many: Σ weight·[ln Σ share·L_from_new - ln Σ share·S(entry)] [1]."""

    clocks: tuple[Clock, ...]
    histories: float
    failures: float
    logs: RowLogs
    log_share: FloatArray
    starts: IntArray
    weight: FloatArray

    def failed(self, theta: FloatArray) -> float:  # noqa: ARG002 - the days are in doubt here, not the failures
        """See :class:`JoinedRows`."""
        return self.failures

    def add_to(self, out: Derivatives, theta: FloatArray) -> None:
        """See :class:`JoinedRows`."""
        seen = log_sum(from_new_parts(self.logs, theta), self.log_share, self.starts)
        there = log_sum(hazard_parts(self.logs.entry, theta).times(-1.0), self.log_share, self.starts)
        out.add((seen + there.times(-1.0)).times(self.weight))

    def log_likelihood(self, thetas: FloatArray) -> FloatArray:
        """See :class:`JoinedRows`."""
        return in_steps(self._some, thetas, len(self.log_share))

    def _some(self, thetas: FloatArray) -> FloatArray:
        seen = log_sum_values(from_new_values(self.logs, thetas), self.log_share, self.starts)
        there = log_sum_values(-hazard_values(self.logs.entry, thetas), self.log_share, self.starts)
        found: FloatArray = (seen - there) @ self.weight
        return found


@dataclass(frozen=True, eq=False)
class SharedEvents:
    """Complaints cured by renewing several parts at once, seen from one part kind: a masked cause [2].

    An event contributes ln(Σ fit·h + others) - Σ Λ, with h the hazard of each of this kind's parts renewed against it, Λ its
    cumulative hazard from entry to removal, and ``others`` what the other kinds' parts bring: Σ fit·h at their own lives.
    Make one with :meth:`of`.
    """

    clocks: tuple[Clock, ...]
    histories: float
    logs: RowLogs = field(repr=False)
    log_fit: FloatArray = field(repr=False)
    log_others: FloatArray = field(repr=False)
    starts: IntArray = field(repr=False)

    @classmethod
    def of(cls, spells: Spells, event: ArrayLike, fit: ArrayLike, others: ArrayLike) -> SharedEvents:
        """Gather shared events.

        Args:
            spells: this kind's parts renewed against the events, as exact rows at their removal, weight 1, (n,).
            event: number of each row's event, from 0 without gaps, (n,).
            fit: how well a failure of each row's part fits its complaint, above 0, (n,).
            others: Σ fit·hazard of the other kinds' parts in each event, per year (per km for distance alone), at least 0, (m,).

        Raises:
            SpellError: naming the argument.
        """
        if not isinstance(spells, Spells) or not spells.exact.all() or (spells.weight != 1).any():
            raise SpellError("spells", "exact rows of weight 1 at the removals", spells)
        numbers, fits = np.asarray(event), np.asarray(fit, dtype=np.float64)
        rest = np.asarray(others, dtype=np.float64)
        if numbers.shape != (len(spells),) or not np.array_equal(np.unique(numbers), np.arange(len(rest))):
            raise SpellError(
                "event", f"a number from 0 to {len(rest) - 1} for each row, none left out", event
            )
        if fits.shape != (len(spells),) or not (np.isfinite(fits) & (fits > 0)).all():
            raise SpellError("fit", "a finite number above 0 for each row", fit)
        if not (np.isfinite(rest) & (rest >= 0)).all():
            raise SpellError("others", "a finite number of at least 0 for each event", others)
        order = np.argsort(numbers, kind="stable")
        return cls(
            spells.clocks,
            float(len(spells)),
            logs_of(spells.take(order)),
            np.log(fits[order]),
            log_of(rest),
            np.searchsorted(numbers[order], np.arange(len(rest))),
        )

    def failed(self, theta: FloatArray) -> float:
        """See :class:`JoinedRows`."""
        return float(self.guilt(theta).sum())

    def guilt(self, theta: FloatArray) -> FloatArray:
        """Chance, per event, that a part of this kind was the guilty one, (m,)."""
        own = log_sum(log_rate_parts(self.logs, theta), self.log_fit, self.starts).value
        share: FloatArray = np.exp(own - np.logaddexp(own, self.log_others))
        return share

    def add_to(self, out: Derivatives, theta: FloatArray) -> None:
        """See :class:`JoinedRows`."""
        own = log_sum(log_rate_parts(self.logs, theta), self.log_fit, self.starts)
        share = np.exp(own.value - np.logaddexp(own.value, self.log_others))
        square = own.gradient[:, None, :] * own.gradient[None, :, :]
        out.add(
            Parts(
                np.logaddexp(own.value, self.log_others),
                share * own.gradient,
                share * own.hessian + share * (1 - share) * square,
            ),
        )
        out.add(hazard_parts(self.logs.upper, theta).times(-1.0))
        out.add(hazard_parts(self.logs.entry, theta))

    def log_likelihood(self, thetas: FloatArray) -> FloatArray:
        """See :class:`JoinedRows`."""
        return in_steps(self._some, thetas, len(self.log_fit))

    def _some(self, thetas: FloatArray) -> FloatArray:
        own = log_sum_values(log_rate_values(self.logs, thetas), self.log_fit, self.starts)
        spent = hazard_values(self.logs.upper, thetas) - hazard_values(self.logs.entry, thetas)
        found: FloatArray = np.logaddexp(own, self.log_others).sum(axis=1) - spent.sum(axis=1)
        return found


def nothing_seen(clocks: Sequence[Clock], at: Sequence[float]) -> Spells:
    """A row that came under observation and was never looked at again, and so says nothing: to join rows to where there are no others.

    Args:
        clocks: of the fit, distance first.
        at: a reading of each such as parts have: a fit takes its units from it.
    """
    reading, never, weight = [np.array([one]) for one in at], np.array([np.inf]), np.array([1e-9])
    if len(clocks) == 2:
        return Spells.on_both(reading[0], never, reading[1], never, reading[0], reading[1], weight)
    on_one = Spells.on_distance if clocks[0] == "distance" else Spells.on_age
    return on_one(reading[0], never, reading[0], weight)


def undated_rows_of(undated: UndatedSpells) -> UndatedRows:
    """Mixture rows of the history room, ready for a fit."""
    nodes = undated.nodes
    starts = np.searchsorted(undated.row, np.arange(len(undated)))
    failed = np.asarray((~nodes.censored)[starts], dtype=np.float64)
    return UndatedRows(
        nodes.clocks,
        float(undated.weight.sum()),
        float(undated.weight @ failed),
        logs_of(nodes),
        log_of(undated.share),
        starts,
        undated.weight,
    )
