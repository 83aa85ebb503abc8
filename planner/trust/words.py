"""The verdict of a backtest, in words that claim no more than the failures carry."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.trust.values import Difference, Range

CLEAR = 2.0
"""Standard errors by which a difference must stand out to be called one."""


def verdict(failed: int, ratio: Range, differences: Sequence[Difference], *, enough: bool) -> str:
    """Whether as many failed as was said, and whether the predictions beat the other ways.

    Args:
        failed: distinct parts that failed.
        ratio: observed over expected.
        differences: against the other ways.
        enough: whether enough failed to judge by.
    """
    if not enough:
        parts = {0: "no part", 1: "one part"}.get(failed, f"{failed} parts")
        return f"Too few failures to judge by: {parts} failed. {_range(ratio)}."
    return " ".join([_calibrated(ratio), *(_compared(one) for one in differences)])


def _calibrated(ratio: Range) -> str:
    if ratio.low is None or ratio.high is None:
        return "Nothing was expected to fail."
    if ratio.low <= 1.0 <= ratio.high:
        return f"As many failed as was said, as far as can be told. {_range(ratio)}."
    more = "More" if ratio.low > 1.0 else "Fewer"
    return f"{more} failed than was said. {_range(ratio)}."


def _range(ratio: Range) -> str:
    if ratio.low is None or ratio.high is None:
        return "No ratio can be given"
    return f"{ratio.value:.2g} times what was expected came ({ratio.low:.2g} to {ratio.high:.2g})"


def _compared(one: Difference) -> str:
    name = f"the {one.name.removeprefix('the ')}"
    if one.log_error is None:
        return f"One car alone cannot say whether the predictions beat {name}."
    if one.log > CLEAR * one.log_error:
        return f"The predictions beat {name}."
    if one.log < -CLEAR * one.log_error:
        return f"The predictions were worse than {name}."
    return f"No clear difference from {name}."
