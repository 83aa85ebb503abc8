"""Fit a life to spells: maximum likelihood, or the posterior mode with a prior."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import FitNotConverged, InputError, PriorError
from planner.history.spells import Spells
from planner.life import one_clock, two_clocks
from planner.life.checks import count, positive, seed_number
from planner.life.counts.binning import BinnedSpells, spell_counts
from planner.life.counts.sketch import settle
from planner.life.likelihood import log_likelihood
from planner.life.maximise import Stationary, inverse, maximise
from planner.life.model import ClockLife, Diagnostics, Evidence, Life
from planner.life.prior import LifePrior, share_left
from planner.life.problem import Problem, pose
from planner.life.sampling.draws import draw_around
from planner.life.terms import terms_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.history.spells import FloatArray
    from planner.life.joined_rows import JoinedRows
    from planner.life.sampling.draws import LogDensity
    from planner.life.terms import Terms

ROW_BY_ROW = 5_000
"""Spells of up to so many rows are fitted row by row, more as counts in cells."""
ACCEPTED_GRADIENT = 1e-6
_STARTS_WITH_PRIOR = 4
_BOX = 10.0
_NEAR = 5.0


def fit_life(
    spells: Spells | BinnedSpells,
    prior: LifePrior | None = None,
    *,
    fixed_shape: float | None = None,
    seed: int = 0,
    draws: int = 400,
    joined: Sequence[JoinedRows] = (),
    binned: bool | None = None,
) -> Life:
    """Fit a life.

    Without a prior this is maximum likelihood. One clock needs a failure and an interior maximum. On two clocks the
    likelihood is unbounded for common data; the best interior peak with every shape at most 12 is returned. With a
    prior (independent normals on ln shape and ln scale) it is the posterior mode, which always exists.

    Draws without a prior are from the likelihood itself, flat in ln shape and ln scale, cut off at 10 standard
    deviations from the estimate and, on two clocks, at a shape of 12: beyond, flat tails need not have a finite sum.

    Args:
        spells: life data on one or two clocks, or counts of them (:func:`planner.life.counts.binning.spell_counts`).
        prior: on the same clocks, or None.
        fixed_shape: a shape known from elsewhere, one clock only (Weibayes; IEC 61649); only the scale is fitted.
        seed: of the random numbers behind the draws.
        draws: how many equally weighted draws to keep.
        joined: evidence that stays rows, in addition to the spells: parts of unknown fitting day
            (:func:`planner.life.joined_rows.undated_rows_of`), complaints that several parts answered for
            (:class:`planner.life.joined_rows.SharedEvents`). It needs a prior.
        binned: whether to count spells in cells first, which changes logs of parameters by less than 1e-4, or a
            thousandth of their standard error where that is more, and makes the fit's time independent of the number
            of rows; where left out, above 5,000 rows.

    Raises:
        PriorError: the prior's clocks are not those of the spells, or joined rows without a prior.
        InputError: another argument makes no sense.
        TooFewFailures: without a prior, no interior maximum.
        ClockNotIdentified: without a prior, one of two clocks has no hazard at the maximum.
        FitNotConverged: the optimiser stopped short.
    """
    _check(spells, prior, fixed_shape)
    count("draws", draws)
    seed_number(seed)
    _check_joined(joined, spells.clocks, prior)
    problem, peak = _peak(_data(spells, joined, binned), prior, fixed_shape)
    if peak.scaled_gradient(1.0) >= ACCEPTED_GRADIENT or not peak.peaked:
        raise FitNotConverged(
            f"the optimiser stopped at a scaled gradient of {peak.scaled_gradient(1.0):.1e} "
            f"(accepted: {ACCEPTED_GRADIENT:.0e}) or off a peak"
        )
    life = _life(problem, peak, prior, seed=seed, count=draws)
    higher = None if prior is None else _higher(problem, peak, life.draws - problem.terms.shift)
    return life if higher is None else _life(problem, higher, prior, seed=seed, count=draws)


def book_life(prior: LifePrior, *, seed: int = 0, draws: int = 400) -> Life:
    """The life that a prior alone describes: its means, draws from it, and no evidence.

    Args:
        prior: on one or two clocks.
        seed: of the random numbers.
        draws: how many.

    Raises:
        PriorError: no prior.
        InputError: fewer than one draw, or no seed.
    """
    if not isinstance(prior, LifePrior):
        raise PriorError("prior", "a LifePrior", prior)
    count("draws", draws)
    seed_number(seed)
    mean, spread = prior.mean, prior.spread
    random = np.random.default_rng(seed)
    values = mean + spread * random.standard_normal((draws, len(mean)))
    distance, age = _laws(prior.clocks, mean)
    return Life(
        distance,
        age,
        log_likelihood=0.0,
        covariance=np.diag(spread**2),
        draws=values,
        evidence=Evidence(0.0, 0.0, 1.0),
        diagnostics=Diagnostics(float(draws), 0.0, "the prior itself"),
        prior=prior,
    )


def _data(
    spells: Spells | BinnedSpells, joined: Sequence[JoinedRows], binned: bool | None
) -> tuple[Terms, ...]:
    """The terms of the likelihood and, where the spells are counted in cells, a sketch of them."""
    if isinstance(spells, Spells):
        wanted = len(spells) > ROW_BY_ROW if binned is None else binned
        if not wanted:
            return (replace(terms_of(spells), joined=tuple(joined)),)
        spells = spell_counts(spells)
    elif binned is False:
        raise InputError("binned", "True or nothing for spells that are counts already", binned)
    return tuple(replace(terms, joined=tuple(joined)) for terms in (spells.terms(), spells.few_terms()))


def _peak(
    data: tuple[Terms, ...], prior: LifePrior | None, fixed_shape: float | None
) -> tuple[Problem, Stationary]:
    search = _without_prior if prior is None else _with_prior
    problem, *sketch = (pose(terms, prior, fixed_shape) for terms in data)
    return settle(problem, sketch[0], search) if sketch else (problem, search(problem))


def _with_prior(problem: Problem) -> Stationary:
    held = problem.free == 0
    candidates = np.where(held, problem.centre, two_clocks.starts(problem.terms))
    order = np.argsort(-problem.log_density(candidates))[:_STARTS_WITH_PRIOR]
    found = [maximise(problem.at, start, problem.free) for start in (problem.centre, *candidates[order])]
    peaks = [peak for peak in found if peak is not None]
    if not peaks:
        raise FitNotConverged("the likelihood overflows at every start")
    return max(peaks, key=lambda peak: (peak.scaled_gradient(1.0) < ACCEPTED_GRADIENT, peak.value))


def _higher(problem: Problem, peak: Stationary, draws: FloatArray) -> Stationary | None:
    """A higher peak near the draws, where one of them stands higher than the peak; None mostly.

    Either clock may explain all, and every climb from afar may have met the lower of two peaks.
    """
    density = problem.log_density(draws)
    if density.max() <= problem.log_density(peak.theta[None, :])[0]:
        return None
    start = draws[np.argmax(density)]
    found = maximise(problem.at, start, problem.free)
    if found is None or not found.peaked or found.scaled_gradient(1.0) >= ACCEPTED_GRADIENT:
        return None
    near = (np.abs(found.theta - start) <= _NEAR * draws.std(axis=0)).all()
    return found if near and found.value > peak.value else None


def _without_prior(problem: Problem) -> Stationary:
    terms = problem.terms
    if problem.free[0] == 0:
        start = np.array([problem.centre[0], one_clock.scale_at(terms, math.exp(problem.centre[0]))])
    elif len(terms.clocks) == 1:
        start = one_clock.best_start(terms)
    else:
        start = two_clocks.best_peak(terms, problem.at)
    peak = maximise(problem.at, start, problem.free)
    if peak is None:
        raise FitNotConverged("the likelihood overflows at its maximum")
    return peak


def _life(problem: Problem, peak: Stationary, prior: LifePrior | None, *, seed: int, count: int) -> Life:
    terms = problem.terms
    covariance = inverse(peak.information * problem.unit, problem.free > 0)
    density = _bounded(problem, peak.theta, covariance)
    believed = None if prior is None else (problem.centre, prior.spread)
    drawn = draw_around(density, peak.theta, covariance, count=count, seed=seed, prior=believed)
    distance, age = _laws(terms.clocks, peak.theta + terms.shift)
    value = float(log_likelihood(terms, peak.theta[None, :])[0]) + terms.density_constant
    here = peak.theta + terms.shift
    value += sum(float(rows.log_likelihood(here[None, :])[0]) for rows in terms.joined)
    evidence = Evidence(
        terms.histories + sum(rows.histories for rows in terms.joined),
        terms.failures + sum(rows.failed(here) for rows in terms.joined),
        _prior_share(problem, covariance, prior),
    )
    return Life(
        distance,
        age,
        log_likelihood=value,
        covariance=covariance,
        draws=drawn.values + terms.shift,
        evidence=evidence,
        diagnostics=drawn.diagnostics,
        prior=prior,
        known_shape=bool(problem.free[0] == 0),
        terms=terms,
    )


def _bounded(problem: Problem, mode: FloatArray, covariance: FloatArray) -> LogDensity:
    """The posterior, or without a prior the likelihood, inside its box; with a prior ten of its spreads are in it too."""
    reach = _BOX * np.sqrt(np.diag(covariance))
    bottom, top = mode - reach, mode + reach
    if problem.precision.any():
        believed = _BOX / np.sqrt(np.where(problem.free > 0, problem.precision, np.inf))
        bottom = np.minimum(bottom, problem.centre - believed)
        top = np.maximum(top, problem.centre + believed)
    elif len(problem.terms.clocks) == 2:
        top[0::2] = np.minimum(top[0::2], math.log(two_clocks.LARGEST_SHAPE))

    def inside(thetas: FloatArray) -> FloatArray:
        ok = ((thetas >= bottom) & (thetas <= top)).all(axis=1)
        return np.where(ok, problem.log_density(thetas), -np.inf)

    return inside


def _prior_share(problem: Problem, covariance: FloatArray, prior: LifePrior | None) -> float:
    if prior is None:
        return 0.0
    free = problem.free > 0
    return share_left(np.diag(covariance)[free], prior.spread[free] ** 2)


def _laws(clocks: tuple[str, ...], parameters: FloatArray) -> tuple[ClockLife | None, ClockLife | None]:
    values = np.exp(np.clip(parameters, -700.0, 700.0))  # weights of 10^13 against a sharp prior reach beyond
    found = {
        clock: ClockLife(float(values[2 * i]), float(values[2 * i + 1])) for i, clock in enumerate(clocks)
    }
    return found.get("distance"), found.get("age")


def _check(spells: Spells | BinnedSpells, prior: LifePrior | None, fixed_shape: float | None) -> None:
    if not isinstance(spells, Spells | BinnedSpells):
        raise InputError("spells", "Spells, or BinnedSpells", spells)
    if prior is not None and not isinstance(prior, LifePrior):
        raise PriorError("prior", "a LifePrior or None", prior)
    if prior is not None and prior.clocks != spells.clocks:
        raise PriorError("prior", f"clocks {' and '.join(spells.clocks)}, as the spells have", prior.clocks)
    if fixed_shape is not None:
        if len(spells.clocks) == 2:
            raise InputError("fixed_shape", "None on two clocks", fixed_shape)
        positive("fixed_shape", fixed_shape)


def _check_joined(joined: Sequence[JoinedRows], clocks: Sequence[str], prior: LifePrior | None) -> None:
    if joined and prior is None:
        raise PriorError("prior", "a prior, where rows are joined", prior)
    for rows in joined:
        if rows.clocks != clocks:
            raise InputError("joined", f"clocks {' and '.join(clocks)}, as the spells have", rows.clocks)
