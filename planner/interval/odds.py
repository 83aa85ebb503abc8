"""Chances as a mechanic says them: odds with a range and no false precision."""

from __future__ import annotations

import math

_STEPS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
_COMMON = ((0.45, "1 in 2"), (0.55, "6 in 10"), (0.65, "7 in 10"), (0.75, "8 in 10"), (0.85, "9 in 10"))
_FEW = 10


def odds(chance: float) -> str:
    """A chance as odds: "1 in 12", "7 in 10", "less than 1 in 1,000", "nearly certain"."""
    if chance < 0.001:
        return "less than 1 in 1,000"
    if chance > 0.95:
        return "nearly certain"
    if chance >= 0.45:
        return [words for least, words in _COMMON if chance >= least][-1]
    return f"1 in {_one_in(1.0 / chance):,}"


def chance_in_words(mean: float, low: float, high: float) -> str:
    """A chance and its range: "about 1 in 12 (between 1 in 30 and 1 in 6)"."""
    middle, least, most = odds(mean), odds(low), odds(high)
    about = middle if middle.startswith(("less", "nearly")) else f"about {middle}"
    if least == most == middle:
        return about
    if least == most:
        return f"{about} (most likely {least})"
    return f"{about} (between {least} and {most})"


def _one_in(odds_against: float) -> int:
    """A whole number up to ten, above that a round one: 12, 15, 20, 25, 30, 40, 50, 60, 80, 100 and so on."""
    if odds_against < _FEW + 0.5:
        return round(odds_against)
    decade = 10.0 ** math.floor(math.log10(odds_against))
    return int(decade * min(_STEPS, key=lambda step: abs(math.log(odds_against / (decade * step)))))
