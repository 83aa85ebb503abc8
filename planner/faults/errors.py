"""What the fault-finding room refuses, as branches of the planner's error tree."""

from __future__ import annotations

from planner.errors import InputError


class FaultError(InputError):
    """Suspects, checks or steps of a fault-finding make no sense."""


class ContradictoryResults(FaultError):  # noqa: N818 - reads as the trade says it
    """The same check on the same part was reported with two outcomes."""


class PartNotOnCar(FaultError):  # noqa: N818 - reads as the trade says it
    """A step or a check names a part that is not among this car's suspects."""


class CaseClosed(FaultError):  # noqa: N818 - reads as the trade says it
    """A case that is closed already was to be changed or closed again."""
