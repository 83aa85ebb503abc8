"""How far predictions were right: made anew at past days with what was then known, and held against what came."""

from planner.trust.backtest import backtest
from planner.trust.values import Backtest, CalibrationLine, Difference, LeftOut, OriginLine, Range, Scores

__all__ = [
    "Backtest",
    "CalibrationLine",
    "Difference",
    "LeftOut",
    "OriginLine",
    "Range",
    "Scores",
    "backtest",
]
