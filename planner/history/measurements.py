"""What was measured on a part over its life, against its own clocks: the readings of a wear path."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import RecordError
from planner.history.clocks import ClockUnknownError, part_clocks
from planner.history.timeline import timeline

if TYPE_CHECKING:
    from datetime import date

    from numpy.typing import NDArray

    from planner.history.part_history import Event, PartHistory
    from planner.history.records import Measurement
    from planner.history.spells import Clock

RESETS = ("re-gapped", "adjusted", "dressed")
"""Work after which the measured figure starts anew (a gap set, a belt tightened, a face dressed)."""


@dataclass(frozen=True, eq=False)
class MeasuredWear:
    """Measurements of one part since its figure was last set.

    Attributes:
        ref: the fitment's own key.
        clock: "distance" (km) or "age" (years): what `at` counts.
        at: the part's clock at each measurement, since the fitting or the last setting, shape (n,), rising.
        value: what was measured, shape (n,).
        unit: its unit.
        limit: where the part must be renewed; the last one written. None where none was.
        set_at: the part's own clock when its figure was last set; 0 from new.
        now: clock since the setting when the part was last seen.
    """

    ref: str
    clock: Clock
    at: NDArray[np.float64]
    value: NDArray[np.float64]
    unit: str
    limit: float | None
    set_at: float
    now: float


def measured_wear(history: PartHistory, clock: Clock, today: date) -> MeasuredWear | None:
    """Gather the measurements of one part.

    Args:
        history: the part.
        clock: what to count against.
        today: no record may be later.

    Returns:
        The measurements since the last work that set the figure anew; None where nothing was measured since, or the clock of
        a measurement cannot be told.

    Raises:
        RecordError: a record contradicts another; `inspections[i].measurement.unit` where units differ.
    """
    line = timeline(history, today)
    clocks = part_clocks(history, line)
    start = _last_setting(line.looks) or line.fitted
    figures = _figures(history, line.looks, start)
    if not figures:
        return None
    _one_unit(history)
    try:
        since = clocks.at(start, clock)
        at = np.array([clocks.at(event, clock) - since for event, _ in figures])
        now = clocks.at(line.last_seen, clock) - since
    except ClockUnknownError:
        return None
    limits = [figure.limit for _, figure in figures if figure.limit is not None]
    value = np.array([figure.value for _, figure in figures])
    limit = limits[-1] if limits else None
    return MeasuredWear(
        history.fitment.ref, clock, at, value, figures[0][1].unit, limit, since, max(now, at[-1])
    )


def _last_setting(looks: tuple[Event, ...]) -> Event | None:
    settings = [look for look in looks if look.action in RESETS]
    return settings[-1] if settings else None


def _figures(history: PartHistory, looks: tuple[Event, ...], start: Event) -> list[tuple[Event, Measurement]]:
    by_field = {f"inspections[{i}]": look.measurement for i, look in enumerate(history.inspections)}
    found = []
    for look in looks:
        figure = by_field.get(look.field)
        before_setting = start.what == "repaired" and look.on.likely <= start.on.likely
        if figure is not None and not before_setting:
            found.append((look, figure))
    return found


def _one_unit(history: PartHistory) -> None:
    first = ""
    for index, look in enumerate(history.inspections):
        if look.measurement is None:
            continue
        first = first or look.measurement.unit
        if look.measurement.unit != first:
            wanted = f"the unit of the part's other measurements, {first}"
            raise RecordError(f"inspections[{index}].measurement.unit", wanted, look.measurement.unit)
