"""An affine-invariant ensemble of walkers (Goodman & Weare 2010): slower than importance weights, and hard to fool."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.history.spells import BoolArray, FloatArray

    LogDensity = Callable[[FloatArray], FloatArray]

_WARM_UP = 300
_KEPT = 600
_STRETCH = 2.0


@dataclass(frozen=True, eq=False)
class Chain:
    """Positions of all walkers over the kept steps, one after another (n, p), and what they are worth."""

    values: FloatArray
    effective_sample_size: float


def walk(
    log_density: LogDensity, begin: FloatArray, mode: FloatArray, free: BoolArray, random: np.random.Generator
) -> Chain:
    """Let walkers move by stretches towards and away from one another.

    Args:
        log_density: (m, p) in, (m,) out; -inf where the density is 0.
        begin: where the walkers start, (walkers, p), an even number.
        mode: a point inside; walkers that start outside are put there, a little apart.
        free: which parameters move, (p,).
        random: source of random numbers.
    """
    walkers, size = begin.copy(), int(free.sum())
    values = log_density(walkers)
    lost = ~np.isfinite(values)
    walkers[lost] = mode
    walkers[np.ix_(lost, free)] += 1e-3 * random.standard_normal((int(lost.sum()), size))
    values = log_density(walkers)
    half = len(walkers) // 2
    kept = np.empty((_KEPT, *walkers.shape))
    for step in range(_WARM_UP + _KEPT):
        for mine, others in ((slice(0, half), slice(half, None)), (slice(half, None), slice(0, half))):
            _move(log_density, walkers, values, mine, walkers[others], free, random)
        if step >= _WARM_UP:
            kept[step - _WARM_UP] = walkers
    return Chain(kept.reshape(-1, walkers.shape[1]), _worth(kept[:, :, free]))


def _move(
    log_density: LogDensity,
    walkers: FloatArray,
    values: FloatArray,
    mine: slice,
    others: FloatArray,
    free: BoolArray,
    random: np.random.Generator,
) -> None:
    here = walkers[mine]
    count, size = len(here), int(free.sum())
    z = (1 + (_STRETCH - 1) * random.random(count)) ** 2 / _STRETCH
    partner = others[random.integers(len(others), size=count)]
    there = np.where(free, partner + z[:, None] * (here - partner), here)
    new = log_density(there)
    log_odds = (size - 1) * np.log(z) + new - values[mine]
    take = np.isfinite(new) & (np.log(random.random(count)) < log_odds)
    walkers[mine] = np.where(take[:, None], there, here)
    values[mine] = np.where(take, new, values[mine])


def _worth(kept: FloatArray) -> float:
    """Independent draws that the chains are worth: all of them over the longest autocorrelation time."""
    steps, walkers, _ = kept.shape
    centred = kept - kept.mean(axis=(0, 1))
    spectrum = np.abs(np.fft.rfft(centred, n=2 * steps, axis=0)) ** 2
    covariance = np.fft.irfft(spectrum, axis=0)[:steps].mean(axis=1)
    correlation = covariance / np.maximum(covariance[0], 1e-300)
    times = 2 * np.cumsum(correlation, axis=0) - 1
    settled = np.arange(steps)[:, None] >= 5 * times
    settled[-1] = True  # a chain shorter than that is worth what its whole length says, not every step of it
    window = np.argmax(settled, axis=0)
    longest = max(1.0, float(np.max(times[window, np.arange(times.shape[1])])))
    return float(steps * walkers) / longest
