"""How often a part is bad from the shelf or badly fitted: posterior of π0 for one kind and grade, from its first kilometres or years.

S(t) = (1 - π0)·exp(-Λ(t)) once the first span is over. A faulty part shows itself within the span, or on a car that needs longer for it
within a year, evenly over what comes first (judgement); a sound one wears as the life says. So an early failure is shared between fault and wear, and no early failure has to be sorted by hand.

Source: mixture of a limited failure population (Meeker 1987, Technometrics 29:51-65) with a Beta prior on the share.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import InputError, PriorError, SpellError
from planner.history.spells import Spells
from planner.life.checks import positive
from planner.life.checks import share as share_of
from planner.life.new_parts.early_failures import LONGEST, early, shown

if TYPE_CHECKING:
    from planner.history.spells import FloatArray
    from planner.life.model import Life

_GRID = 1500
_PASSES = 3
_NOTHING = 1e-14
_FAR, _BEYOND = 40.0, 20.0


@dataclass(frozen=True)
class NewPartFault:
    """Posterior of the share of new parts that are bad.

    Attributes:
        mean: posterior mean, to be used as a new part's chance of being bad.
        low: its 10 % point.
        high: its 90 % point.
        parts: weight of the parts watched from new.
        early: weight of those that failed within the span.
        by_fault: how many of the early failures were the new part's fault, at the mean.
    """

    mean: float
    low: float
    high: float
    parts: float
    early: float
    by_fault: float


def new_part_fault(
    spells: Spells, life: Life, *, span: float, expected: float = 0.02, worth: float = 50.0
) -> NewPartFault:
    """Estimate the share of new parts that are bad.

    Only parts watched from new count. The life must be that of sound parts: the book's, or one fitted with early failures taken as
    censored; fitted to them as wear it would explain them away.

    Args:
        spells: of one kind and grade.
        life: of sound parts, on the same clocks.
        span: km (years where age is the only clock) within which a bad part shows itself; 2,000 km is usual for the trade's tales.
        expected: mean of the Beta prior; the catalogue's `new_part_fault` where it has one.
        worth: how many parts the prior is worth.

    Raises:
        SpellError: no part was watched from new.
        PriorError: an expected share not above 0 and below 1 (with 0 no record could ever show a bad part), or a worth not above 0.
        InputError: another argument makes no sense.
    """
    span = positive("span", span)
    book = share_of("expected", expected, "a share above 0 and below 1", PriorError)
    parts = positive("worth", worth, "a finite number of parts above 0", PriorError)
    if not isinstance(spells, Spells):
        raise SpellError("spells", "Spells of one kind and grade", spells)
    if spells.clocks != life.clocks:
        raise InputError("life", f"clocks {' and '.join(spells.clocks)}, as the spells have", life.clocks)
    rows = from_new(spells)
    bad, sound = chances_of(rows, life, span)
    share, mass = _posterior(book * parts, (1 - book) * parts, rows.weight, bad, sound)
    return summed_up(rows, bad, sound, share, mass, span)


def _posterior(
    a: float, b: float, weight: FloatArray, bad: FloatArray, sound: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Shares and their masses: a Beta(a, b) law times the rows' likelihood, on a grid in ln odds.

    Where a is below 1 the law has no end of density near 0, but in ln odds it falls like exp(a·z): beyond the grid's ends, where the
    likelihood no longer changes, the rest is added in closed form. The grid is laid anew where the mass is.
    """
    told = (bad > 0) & (sound > 0)
    a, b = a + float(weight[(sound == 0) & (bad > 0)].sum()), b + float(weight[bad == 0].sum())
    log_bad, log_sound, weight = np.log(bad[told]), np.log(sound[told]), weight[told]
    turns = log_sound - log_bad  # ln odds at which a row is as likely a bad part's as a sound one's
    ends = (
        min(-_FAR, float(turns.min(initial=0.0)) - _BEYOND),
        max(_FAR, float(turns.max(initial=0.0)) + _BEYOND),
    )
    z = np.linspace(*ends, _GRID)
    for again in range(_PASSES):
        log_share, log_rest = -np.logaddexp(0.0, -z), -np.logaddexp(0.0, z)
        logs = a * log_share + b * log_rest
        logs += np.logaddexp(log_share[:, None] + log_bad, log_rest[:, None] + log_sound) @ weight
        step = z[1] - z[0]
        logs[0] += math.log(0.5 + 1 / (a * step)) if z[0] == ends[0] else 0.0
        logs[-1] += math.log(0.5 + 1 / (b * step)) if z[-1] == ends[1] else 0.0
        mass = np.exp(logs - logs.max())
        mass /= mass.sum()
        if again < _PASSES - 1:
            z = _where_the_mass_is(z, mass)
    return np.exp(log_share), mass


def _where_the_mass_is(z: FloatArray, mass: FloatArray) -> FloatArray:
    """An even grid over what of a grid holds all but nothing of the mass."""
    there = np.flatnonzero(mass > _NOTHING)
    first, last = max(int(there[0]) - 1, 0), min(int(there[-1]) + 1, len(z) - 1)
    return np.linspace(z[first], z[last], _GRID)


def summed_up(
    rows: Spells, bad: FloatArray, sound: FloatArray, share: FloatArray, mass: FloatArray, span: float
) -> NewPartFault:
    """What a posterior of the share, given on values of it, says beside the rows it came from."""
    mean = float(mass @ share)
    low, high = (float(at) for at in np.interp([0.1, 0.9], np.cumsum(mass) - 0.5 * mass, share))
    failed_early = early(rows, span)
    guilty = mean * bad / (mean * bad + (1 - mean) * sound)
    weight = rows.weight[failed_early]
    return NewPartFault(
        mean, low, high, float(rows.weight.sum()), float(weight.sum()), float(weight @ guilty[failed_early])
    )


def from_new(spells: Spells) -> Spells:
    """The parts watched from new; SpellError where there is none."""
    new = spells.from_new
    if not new.any():
        raise SpellError("spells", "at least one part watched from new", spells)
    return spells.take(new)


def chances_of(rows: Spells, life: Life, span: float) -> tuple[FloatArray, FloatArray]:
    """Likelihood of each row for a bad part and for a sound one."""
    exact, censored = rows.exact, rows.censored
    rate = np.ones(len(rows)) if rows.km_per_year is None else np.where(exact, rows.km_per_year, 1.0)
    lower, upper = shown(rows, span)
    pace = np.maximum(rate / span, 1 / LONGEST) if len(rows.clocks) == 2 else rate / span
    within = np.minimum(upper, 1.0) - np.minimum(lower, 1.0)
    bad = np.where(exact, np.where(upper <= 1.0, pace, 0.0), within)
    names = ("km" if clock == "distance" else "years" for clock in rows.clocks)
    at = dict(zip(names, rows.bounds, strict=True))
    good = life.survival(**{name: bounds.lower for name, bounds in at.items()})
    gone = np.where(censored, 0.0, life.survival(**{name: bounds.upper for name, bounds in at.items()}))
    along = {"km_per_year": rate} if "distance" in rows.clocks else {}
    clocks = {name: np.where(bounds.lower > 0, bounds.lower, 1e-9) for name, bounds in at.items()}
    density = life.hazard(**clocks, **along) * good
    return bad, np.where(exact, density, good - gone)
