"""Every error that the planner raises, as one tree grouped by the stage that refuses.

PlannerError
├── InputError              the caller's values are wrong; names the field, what was wanted and what came
│   ├── CatalogueError      a part kind's data are wrong, or the kind is unknown
│   │   └── UnknownPartKind
│   ├── RecordError         a history record contradicts itself or another record
│   │   ├── WearContradicted  measurements go back from the limit: no wear does
│   │   └── WearUneven      measurements go towards the limit along no line
│   ├── SpellError          arrays of spells are malformed
│   ├── PriorError          a prior's quantiles or spreads make no sense
│   ├── CostError           costs, risks or caps make no sense
│   ├── UsageError          odometer readings or a usage plan make no sense
│   └── FaultError          suspects, checks or steps make no sense (its branches: planner/faults/errors.py)
└── FitError                the values are well formed but cannot carry a fit
    ├── TooFewFailures      no interior maximum: too few failures for a fit without a prior
    ├── ClockNotIdentified  one clock's hazard vanishes at the maximum; names the clock
    ├── NobodyWatched       everybody had gone before the others came under observation: no curve without a law
    └── FitNotConverged     the optimiser stopped short of the accepted gradient
"""

from __future__ import annotations


class PlannerError(Exception):
    """The root: catching it catches whatever the planner refuses."""


class InputError(PlannerError, ValueError):
    """A value that the caller gave is wrong.

    Attributes:
        field: name of the argument or record field at fault, dotted for nested records.
        wanted: what would have been accepted, in words.
        got: what came, shortened for display.
    """

    def __init__(self, field: str, wanted: str, got: object) -> None:
        self.field = field
        self.wanted = wanted
        self.got = _shorten(got)
        super().__init__(f"{field}: wanted {wanted}, got {self.got}")


class CatalogueError(InputError):
    """A part kind's data are wrong."""


class UnknownPartKind(CatalogueError):  # noqa: N818 - reads as the trade says it
    """A part kind that the catalogue does not hold."""


class RecordError(InputError):
    """A history record contradicts itself or another record."""


class WearContradicted(RecordError):  # noqa: N818 - reads as the trade says it
    """Measurements of one part move away from its limit beyond their error: an unrecorded renewal, or a wrong figure or unit."""


class WearUneven(RecordError):  # noqa: N818 - reads as the trade says it
    """Measurements of one part move towards its limit, along no line within their error: the rate has changed."""


class SpellError(InputError):
    """Arrays of spells are malformed."""


class PriorError(InputError):
    """A prior's quantiles or spreads make no sense."""


class CostError(InputError):
    """Costs, risk limits or caps make no sense."""


class UsageError(InputError):
    """Odometer readings or a usage plan make no sense."""


class FitError(PlannerError):
    """The data are well formed but cannot carry the fit that was asked for."""


class TooFewFailures(FitError):  # noqa: N818 - reads as the trade says it
    """Without a prior, the likelihood has no interior maximum: too few failures say how long a part lasts."""


class ClockNotIdentified(FitError):  # noqa: N818 - reads as the trade says it
    """At the maximum one clock's hazard vanishes: the data do not say that this clock wears the part.

    Attributes:
        clock: "distance" or "age".
    """

    def __init__(self, clock: str, message: str) -> None:
        self.clock = clock
        super().__init__(message)


class NobodyWatched(FitError):  # noqa: N818 - reads as the trade says it
    """At some reading no part was left under observation, and others came only later.

    Attributes:
        reading: after which nobody was left, in the clock's unit.
    """

    def __init__(self, reading: float) -> None:
        self.reading = reading
        super().__init__(
            f"nobody was left under observation after {reading:g}, and the others came only later: "
            "without a law the records say nothing of what survives beyond"
        )


class FitNotConverged(FitError):  # noqa: N818 - reads as the trade says it
    """The optimiser stopped short of the accepted gradient, or the Hessian is not positive definite."""


def _shorten(value: object, limit: int = 80) -> str:
    try:
        text = repr(value)
    except ValueError:  # a whole number with more digits than Python writes
        text = f"<{type(value).__name__} of too many digits>"
    return text if len(text) <= limit else text[: limit - 1] + "…"
