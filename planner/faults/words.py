"""Chances said as a mechanic says them: odds in round numbers, and ratios in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.faults.values import NotOnRecord

_ROUND = (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.0, 10.0, 15.0, 20.0, 30.0, 50.0, 100.0)


MOST_NAMED = 6
"""Kinds that are not on record and are named in one sentence: the likeliest ones."""


def odds_in_words(chance: float) -> str:
    """Odds of a chance, e.g. "about 3 to 1 on", "about evens", "about 20 to 1 against".

    Never surer than "more than 100 to 1": figures like these carry no more.
    """
    odds = chance / (1.0 - chance)
    long, side = (odds, "on") if odds >= 1.0 else (1.0 / max(odds, 1e-300), "against")
    if long > _ROUND[-1] * 1.2:
        return f"more than 100 to 1 {side}"
    nearest = min(_ROUND, key=lambda figure: abs(figure / long - 1.0))
    if nearest == 1.0:
        return "about evens"
    return f"about {'3 to 2' if nearest == 1.5 else f'{nearest:.0f} to 1'} {side}"


def to_record(missing: Sequence[NotOnRecord]) -> str:
    """Which kinds hide in "something else" for want of a record, and what to do about it; empty if there are none."""
    if not missing:
        return ""
    named = [f"{one.name} ({_in_a_hundred(one.share)})" for one in missing[:MOST_NAMED]]
    more = len(missing) - len(named)
    rest = f" and {more} more kind{'s' if more > 1 else ''}" if more else ""
    return (
        f"Not on record here: {', '.join(named)}{rest}; the odds can't tell them apart until they are recorded. "
        "Record when each was fitted, or that nobody knows."
    )


def times_in_words(ratio: float) -> str:
    """A factor in words that go before "the chance of": "6 times", "0.6 times", "1/7 of", "about"."""
    if 0.8 <= ratio <= 1.25:
        return "about"
    if ratio > 1.0:
        return f"{_short(ratio)} times" if ratio <= 100.0 else "over 100 times"
    if ratio > 0.4:
        return f"{ratio:.1f} times"
    return f"1/{1.0 / ratio:.0f} of" if ratio >= 0.01 else "under 1/100 of"


def _short(figure: float) -> str:
    return f"{figure:.1f}".removesuffix(".0") if figure < 3.0 else f"{figure:.0f}"


def _in_a_hundred(share: float) -> str:
    count = 100.0 * share
    return f"{count:.0f} in 100 such complaints" if count >= 1.0 else "fewer than 1 in 100"
