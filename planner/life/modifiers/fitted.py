"""Modifiers as accelerated life: storage, heat soak, short trips and part grade stretch the clocks, fitted together with the life.

A setting x multiplies the scale of the clocks that a modifier bears on by exp(x·γ); γ has a normal prior from the trade's notes. Where
a setting changes in mid-life the clock is virtual, ∫exp(-x·γ)da. Degradable insulation is no modifier: it is a kind and a group of its
own (:mod:`planner.life.pooling`).

References:
    Nelson 1990, Accelerated Testing, chapters 5 and 10. Lawless 2003, section 6.3 (accelerated failure time).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import FitNotConverged, InputError, PriorError, SpellError
from planner.history.spells import Spells
from planner.life.checks import count, numbers, seed_number, weights_add_up
from planner.life.fit import fit_life
from planner.life.groups.linked_lives import Link, Linked, own_rows
from planner.life.joined_rows import nothing_seen
from planner.life.model import ClockLife, Evidence, Life
from planner.life.modifiers.settings import Settings, settings_of
from planner.life.modifiers.values import Modifier, ModifierEffect, bears_on, book_modifiers, design_of
from planner.life.modifiers.virtual_rows import changing_rows
from planner.life.prior import LifePrior, share_left
from planner.life.sampling.draws import draw_around

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from planner.history.spells import Clock, FloatArray
    from planner.life.joined_rows import JoinedRows
    from planner.life.maximise import Stationary
    from planner.life.modifiers.virtual_rows import ChangingRows
    from planner.life.sampling.draws import Draws


__all__ = ["ModifiedFit", "Modifier", "ModifierEffect", "Settings", "book_modifiers", "fit_modified"]


@dataclass(frozen=True, eq=False)
class ModifiedFit:
    """A life with all settings at 0 and what the settings do to it.

    Attributes:
        life: with every x at 0.
        modifiers: in the order of γ.
        gamma: posterior mode, (modifiers,).
        covariance: of (ln shape, ln scale per clock, γ) at the mode.
        gamma_draws: going with the life's draws, (draws, modifiers).
    """

    life: Life
    modifiers: tuple[Modifier, ...]
    gamma: FloatArray
    covariance: FloatArray
    gamma_draws: FloatArray

    @property
    def effects(self) -> tuple[ModifierEffect, ...]:
        """What each modifier does."""
        variance = np.diag(self.covariance)[-len(self.gamma) :]
        low, median, high = np.exp(np.quantile(self.gamma_draws, [0.1, 0.5, 0.9], axis=0))
        return tuple(
            ModifierEffect(
                m.name,
                float(median[i]),
                float(low[i]),
                float(high[i]),
                min(1.0, float(variance[i]) / m.spread**2),
            )
            for i, m in enumerate(self.modifiers)
        )

    def life_at(self, setting: ArrayLike) -> Life:
        """The life of a part under a setting from new on: usable like any other.

        Args:
            setting: x of every modifier, (modifiers,).

        Raises:
            InputError: a setting of another length, or not finite.
        """
        x = self._setting("setting", setting)
        moves = design_of(self.life.clocks, self.modifiers, x)
        clocks = self.life.clocks
        theta = moves @ np.concatenate([self.life.parameters, self.gamma])
        draws = np.concatenate([self.life.draws, self.gamma_draws], axis=1) @ moves.T
        laws = _laws(clocks, theta)
        return replace(
            self.life,
            distance=laws.get("distance"),
            age=laws.get("age"),
            covariance=moves @ self.covariance @ moves.T,
            draws=draws,
            derived=bool(x.any()),
        )

    def clock_under(self, clock: Clock, spent: Sequence[float], settings: ArrayLike, now: ArrayLike) -> float:
        """The reading that a part would show had it spent its whole life under the setting of now, at the estimate.

        To be used with :meth:`life_at` of that setting for a part whose setting changed.

        Args:
            clock: "distance" or "age".
            spent: km or years spent in each setting, at least 0, (n,).
            settings: those settings, (n, modifiers).
            now: the setting of now, (modifiers,).

        Raises:
            InputError: a clock that the life does not have, or columns that make no sense.
        """
        if clock not in self.life.clocks:
            raise InputError("clock", f"one of {', '.join(self.life.clocks)}", clock)
        x, here = np.atleast_2d(numbers("settings", settings)), self._setting("now", now)
        times = numbers("spent", spent, "finite numbers of at least 0")
        if times.ndim != 1 or not (np.isfinite(times) & (times >= 0)).all():
            raise InputError("spent", "finite numbers of at least 0, one for each setting", spent)
        if x.shape != (len(times), len(self.modifiers)) or not np.isfinite(x).all():
            raise InputError("settings", f"finite numbers, {len(times)} by {len(self.modifiers)}", settings)
        own = self.gamma * bears_on((clock,), self.modifiers)[0]
        return float(times @ np.exp((here - x) @ own))

    def _setting(self, name: str, setting: ArrayLike) -> FloatArray:
        x = numbers(name, setting, f"{len(self.modifiers)} finite numbers")
        if x.shape != (len(self.modifiers),) or not np.isfinite(x).all():
            raise InputError(name, f"{len(self.modifiers)} finite numbers", setting)
        return x


def fit_modified(
    spells: Spells,
    settings: ArrayLike | Settings,
    modifiers: Sequence[Modifier],
    prior: LifePrior,
    *,
    seed: int = 0,
    draws: int = 400,
    joined: Sequence[JoinedRows] = (),
) -> ModifiedFit:
    """Fit a life together with what modifiers do to it: posterior mode, and draws with γ.

    Rows that stay in one setting are grouped by it, and counted in cells where they are many; rows whose setting changes stay rows.

    Args:
        spells: of one kind.
        settings: x of every row, (n, modifiers), 0 where a modifier does not apply; or settings that change in mid-life.
        modifiers: at least one.
        prior: of the life with every x at 0.
        seed: of the random numbers behind the draws.
        draws: how many to keep.
        joined: evidence that stays rows, of parts with every x at 0 (or with their clocks divided by known multipliers).

    Raises:
        SpellError: no spells.
        PriorError: a prior on other clocks, no modifier, or one on a clock that is not there.
        InputError: settings that do not match the rows or the modifiers, fewer than one draw, or no seed.
        FitNotConverged: the optimiser stopped short.
    """
    _check(spells, modifiers, prior)
    count("draws", draws)
    seed_number(seed)
    weights_add_up(float(spells.weight.sum()))
    own = settings_of(settings, len(spells), len(modifiers), spells.clocks)
    problem = _problem(spells, own, tuple(modifiers), prior, joined)
    plain = fit_life(spells, prior, draws=1, joined=joined).parameters
    gamma = problem.centre[len(plain) :]
    peak, covariance = _best(problem, [np.concatenate([plain, gamma]), problem.centre])
    drawn = draw_around(problem.log_density, peak.theta, covariance, count=draws, seed=seed)
    return _fitted(spells, tuple(modifiers), prior, problem, peak, covariance, drawn, joined)


def _problem(
    spells: Spells,
    settings: Settings,
    modifiers: tuple[Modifier, ...],
    prior: LifePrior,
    joined: Sequence[JoinedRows],
) -> Linked:
    steady, x = settings.steady(spells)
    cells, cell = np.unique(x[steady], axis=0, return_inverse=True)
    rows = np.flatnonzero(steady)
    links = tuple(
        Link(own_rows(spells.take(rows[cell.ravel() == i])), design_of(spells.clocks, modifiers, setting))
        for i, setting in enumerate(cells)
    )
    if joined:
        usual = design_of(spells.clocks, modifiers, np.zeros(len(modifiers)))
        links = (
            *links,
            Link(
                own_rows(nothing_seen(spells.clocks, [float(b.lower[0]) for b in spells.bounds]), joined),
                usual,
            ),
        )
    beside: tuple[ChangingRows, ...] = ()
    if not steady.all():
        bears = bears_on(spells.clocks, modifiers)
        beside = (changing_rows(spells.take(~steady), settings.stretches(~steady), bears),)
    centre = np.concatenate([prior.mean, [math.log(m.factor) for m in modifiers]])
    precision = np.concatenate([prior.spread, [m.spread for m in modifiers]]) ** -2.0
    return Linked(links, centre, precision, beside)


def _best(problem: Linked, starts: list[FloatArray]) -> tuple[Stationary, FloatArray]:
    found, refused = [], None
    for start in starts:
        try:
            found.append(problem.peak(start))
        except FitNotConverged as error:
            refused = error
    if not found and refused is not None:
        raise refused
    return max(found, key=lambda each: each[0].value)


def _fitted(
    spells: Spells,
    modifiers: tuple[Modifier, ...],
    prior: LifePrior,
    problem: Linked,
    peak: Stationary,
    covariance: FloatArray,
    drawn: Draws,
    joined: Sequence[JoinedRows],
) -> ModifiedFit:
    size = len(prior.mean)
    laws = _laws(spells.clocks, peak.theta)
    value = sum(link.rows.log_likelihood(link.design @ peak.theta) for link in problem.links)
    value += sum(float(rows.values(peak.theta[None, :])[0]) for rows in problem.beside)
    share = share_left(np.diag(covariance)[:size], prior.spread**2)
    failures = float(spells.weight[~spells.censored].sum())
    failures += sum(rows.failed(peak.theta[:size]) for rows in joined)
    histories = float(spells.weight.sum()) + sum(rows.histories for rows in joined)
    life = Life(
        laws.get("distance"),
        laws.get("age"),
        log_likelihood=value,
        covariance=covariance[:size, :size],
        draws=drawn.values[:, :size],
        evidence=Evidence(histories, failures, share),
        diagnostics=drawn.diagnostics,
        prior=prior,
    )
    return ModifiedFit(life, modifiers, peak.theta[size:], covariance, drawn.values[:, size:])


def _laws(clocks: tuple[Clock, ...], theta: FloatArray) -> dict[str, ClockLife]:
    values = np.exp(theta)
    return {c: ClockLife(float(values[2 * i]), float(values[2 * i + 1])) for i, c in enumerate(clocks)}


def _check(spells: Spells, modifiers: Sequence[Modifier], prior: LifePrior) -> None:
    if not isinstance(spells, Spells):
        raise SpellError("spells", "Spells, row by row", spells)
    if not isinstance(prior, LifePrior) or prior.clocks != spells.clocks:
        raise PriorError("prior", f"a LifePrior on {' and '.join(spells.clocks)}, as the spells have", prior)
    if not isinstance(modifiers, Sequence) or not modifiers:
        raise PriorError("modifiers", "at least one Modifier", modifiers)
    for modifier in modifiers:
        if not isinstance(modifier, Modifier):
            raise PriorError("modifiers", "Modifiers alone", modifier)
        if not set(modifier.clocks) <= set(spells.clocks):
            raise PriorError("modifiers", f"modifiers of {' and '.join(spells.clocks)}", modifier)
