"""Planner for the wear parts of ageing cars: histories in, renewal intervals and dates out.

The public names are loaded on first use, so that importing the package stays cheap.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from planner.catalogue import load_catalogue
    from planner.history.spells import Spells
    from planner.interval.caps import Cap
    from planner.interval.costs import Costs
    from planner.interval.optimum import best_interval
    from planner.life.fit import book_life, fit_life
    from planner.life.model import Life, known_life
    from planner.life.nonparametric import survival_curve
    from planner.life.pooling import PooledFit, fit_pooled
    from planner.life.prior import ClockPrior, LifePrior, book_prior

__all__ = [
    "Cap",
    "ClockPrior",
    "Costs",
    "Life",
    "LifePrior",
    "PooledFit",
    "Spells",
    "best_interval",
    "book_life",
    "book_prior",
    "fit_life",
    "fit_pooled",
    "known_life",
    "load_catalogue",
    "survival_curve",
]

_HOME = {
    "Cap": "planner.interval.caps",
    "ClockPrior": "planner.life.prior",
    "Costs": "planner.interval.costs",
    "Life": "planner.life.model",
    "LifePrior": "planner.life.prior",
    "PooledFit": "planner.life.pooling",
    "Spells": "planner.history.spells",
    "best_interval": "planner.interval.optimum",
    "book_life": "planner.life.fit",
    "book_prior": "planner.life.prior",
    "fit_life": "planner.life.fit",
    "fit_pooled": "planner.life.pooling",
    "known_life": "planner.life.model",
    "load_catalogue": "planner.catalogue",
    "survival_curve": "planner.life.nonparametric",
}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(_HOME[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted(__all__)
