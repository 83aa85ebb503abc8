"""What repairs had taken off each part's wear by the day on which the car last ran well: later ones came after the fault."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from api.bridge import gather
from api.bridge.forecasts.clocks import UNREPAIRED, counted, stand_in
from api.bridge.forecasts.coefficients import Coefficients
from api.bridge.in_force import models
from api.bridge.learning.repaired import repairs_in_forecasts
from planner.catalogue import load_catalogue

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sqlmodel import Session

    from api.bridge.forecasts.clocks import Counted
    from api.bridge.gather import Car
    from api.bridge.in_force.models import Stored
    from api.storage.tables import FaultFinding as Row
    from api.storage.tables import Forecast


def counted_from(session: Session, row: Row, forecasts: Sequence[Forecast]) -> dict[str, Counted]:
    """What the clocks of each part count from, by fitment.

    A repair since the car last ran well takes nothing off: it may have been a try at this very complaint, and made nothing
    likelier to be sound that then failed to cure it.

    Args:
        session: any session; histories are gone through only where a repair has taken wear off.
        row: the case.
        forecasts: of the parts on its car.
    """
    found = {one.fitment_id: Coefficients.from_json(one.coefficients).since for one in forecasts}
    repaired = [one for one in forecasts if found[one.fitment_id].set_back != UNREPAIRED]
    if not repaired:
        return found
    (car,) = gather.cars(session, row.fleet_id, [row.vehicle_id])
    lives = models.stored(session, row.fleet_id, {one.model_id for one in repaired if one.model_id})
    for one in repaired:
        stored = lives.get(one.model_id or "") or models.book_of(one.kind)
        back = _set_back_by_then(car, one, stored, row)
        found[one.fitment_id] = replace(found[one.fitment_id], set_back=back)
    return found


def _set_back_by_then(car: Car, forecast: Forecast, stored: Stored, row: Row) -> tuple[float, float]:
    history = car.part(forecast.fitment_id).history
    by_then = tuple(one for one in history.repairs if one.repaired_on <= row.last_ran_well)
    if not by_then:
        return UNREPAIRED
    safety = load_catalogue()[forecast.kind].safety
    repairs = repairs_in_forecasts(stored.repairs, stored.life, safety=safety)
    track = car.track or stand_in(forecast.as_of)
    return counted(replace(history, repairs=by_then), track, forecast.as_of, repairs).set_back
