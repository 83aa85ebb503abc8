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
    from planner.life.cars.frailty import car_multiplier, fit_with_cars, life_on_car
    from planner.life.fit import book_life, fit_life
    from planner.life.model import Life, known_life
    from planner.life.modifiers.fitted import Modifier, Settings, book_modifiers, fit_modified
    from planner.life.new_parts.by_grade import faults_by_grade
    from planner.life.nonparametric import survival_curve
    from planner.life.pooling import PooledFit, fit_pooled
    from planner.life.prior import ClockPrior, LifePrior, book_prior
    from planner.life.second_opinions.against_prior import against_prior
    from planner.life.second_opinions.composite import compare_clocks
    from planner.life.second_opinions.goodness import goodness_of_fit
    from planner.trust.backtest import backtest

__all__ = [
    "Cap",
    "ClockPrior",
    "Costs",
    "Life",
    "LifePrior",
    "Modifier",
    "PooledFit",
    "Settings",
    "Spells",
    "against_prior",
    "backtest",
    "best_interval",
    "book_life",
    "book_modifiers",
    "book_prior",
    "car_multiplier",
    "compare_clocks",
    "faults_by_grade",
    "fit_life",
    "fit_modified",
    "fit_pooled",
    "fit_with_cars",
    "goodness_of_fit",
    "known_life",
    "life_on_car",
    "load_catalogue",
    "survival_curve",
]

_HOME = {
    "Cap": "planner.interval.caps",
    "ClockPrior": "planner.life.prior",
    "Costs": "planner.interval.costs",
    "Life": "planner.life.model",
    "LifePrior": "planner.life.prior",
    "Modifier": "planner.life.modifiers.fitted",
    "PooledFit": "planner.life.pooling",
    "Settings": "planner.life.modifiers.fitted",
    "Spells": "planner.history.spells",
    "against_prior": "planner.life.second_opinions.against_prior",
    "backtest": "planner.trust.backtest",
    "best_interval": "planner.interval.optimum",
    "book_life": "planner.life.fit",
    "book_modifiers": "planner.life.modifiers.fitted",
    "book_prior": "planner.life.prior",
    "car_multiplier": "planner.life.cars.frailty",
    "compare_clocks": "planner.life.second_opinions.composite",
    "faults_by_grade": "planner.life.new_parts.by_grade",
    "fit_life": "planner.life.fit",
    "fit_modified": "planner.life.modifiers.fitted",
    "fit_pooled": "planner.life.pooling",
    "fit_with_cars": "planner.life.cars.frailty",
    "goodness_of_fit": "planner.life.second_opinions.goodness",
    "known_life": "planner.life.model",
    "life_on_car": "planner.life.cars.frailty",
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
