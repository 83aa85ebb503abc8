"""Routes that re-plan a car have its interval tables made before their transaction opens."""

from __future__ import annotations

from fastapi import Request  # noqa: TC002 - FastAPI reads it

from api.bridge.in_force.ready import Coming, ready_for_cars
from api.history.schemas import FitmentCreate  # noqa: TC001 - FastAPI reads it
from api.security import principal_of
from api.storage.session import database_of
from api.vehicles.schemas import VehicleUpdate  # noqa: TC001 - FastAPI reads it

_READS = ("GET", "HEAD")


def car_ready(request: Request) -> None:
    """Make ready what the car of the address needs; for a router whose writes re-plan that car."""
    asked = request.path_params
    place = asked.get("vehicle_id") or asked.get("fitment_id")
    if request.method not in _READS and place is not None:
        ready_for_cars(database_of(request), principal_of(request).fleet_id, [place])


def kind_ready(vehicle_id: str, request: Request, body: FitmentCreate) -> None:
    """Make ready what a part about to be fitted needs on its car."""
    coming = Coming(fitting=(vehicle_id, body.kind, body.grade))
    ready_for_cars(database_of(request), principal_of(request).fleet_id, [], coming)


def circumstances_ready(vehicle_id: str, request: Request, body: VehicleUpdate) -> None:
    """Make ready what a car's parts need in the circumstances that it is about to be in."""
    if body.circumstances:
        coming = Coming(circumstances=body.circumstances)
        ready_for_cars(database_of(request), principal_of(request).fleet_id, [vehicle_id], coming)
