"""Pareto-smoothed importance weights and their tail index k.

References:
    [1] Vehtari, Simpson, Gelman, Yao & Gabry 2024, Pareto smoothed importance sampling, JMLR 25(72).
    [2] Zhang & Stephens 2009, A new and efficient estimation method for the generalized Pareto distribution,
        Technometrics 51:316-325.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from planner.history.spells import FloatArray


def smoothed_weights(log_ratios: FloatArray) -> tuple[FloatArray, float]:
    """Normalised weights with their largest replaced by quantiles of a fitted Pareto tail, and the tail index.

    Args:
        log_ratios: log of target over proposal, up to a constant, (n,); -inf for a weight of 0.

    Returns:
        Weights that sum to 1, (n,), and k; k is inf where fewer than a handful of weights are above 0.
    """
    logs = log_ratios - log_ratios.max()
    weights = np.exp(logs)
    size = len(weights)
    tail = math.ceil(min(size / 5, 3 * math.sqrt(size)))
    order = np.argsort(weights)
    largest, cutoff = order[-tail:], weights[order[-tail - 1]]
    if np.count_nonzero(weights) <= tail:
        return weights / weights.sum(), math.inf
    excess = weights[largest] - cutoff
    if excess[-1] <= 1e-9 * weights[largest[-1]]:
        return weights / weights.sum(), 0.0
    k, sigma = fit_tail(np.maximum(excess, 1e-300))
    ranks = (np.arange(1, tail + 1) - 0.5) / tail
    with np.errstate(over="ignore"):
        smooth = cutoff + (sigma * np.expm1(-k * np.log1p(-ranks)) / k if k else -sigma * np.log1p(-ranks))
    weights[largest] = np.minimum(smooth, weights.max())
    return weights / weights.sum(), k


def fit_tail(excess: FloatArray) -> tuple[float, float]:
    """Shape k and scale of a generalised Pareto law, from its sorted excesses [2], k drawn to 0.5 as in [1]."""
    size = len(excess)
    grid = 30 + math.floor(math.sqrt(size))
    quartile = excess[max(0, math.floor(size / 4 + 0.5) - 1)]
    b = 1 / excess[-1] + (1 - np.sqrt(grid / (np.arange(1, grid + 1) - 0.5))) / (3 * quartile)
    k = np.log1p(-b[:, None] * excess).mean(axis=1)
    log_fit = size * (np.log(-b / k) - k - 1)
    weight = np.exp(log_fit - log_fit.max())
    centre = float(b @ weight / weight.sum())
    raw = float(np.log1p(-centre * excess).mean())
    return raw * size / (size + 10) + 5 / (size + 10), -raw / centre
