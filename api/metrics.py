"""Figures for a monitoring system at /metrics: requests by route and status, how long they take, jobs by outcome.

No fleet, key or car is named in them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from fastapi import APIRouter, Response
from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, Counter, Histogram, generate_latest

if TYPE_CHECKING:
    from starlette.types import Scope

router = APIRouter(tags=["health"])

_registry = CollectorRegistry()
_requests = Counter(
    "wearwright_requests", "Requests answered.", ["method", "route", "status"], registry=_registry
)
_seconds = Histogram(
    "wearwright_request_seconds", "How long an answer takes.", ["method", "route"], registry=_registry
)
_jobs = Counter("wearwright_jobs", "Jobs that have ended.", ["kind", "state"], registry=_registry)

_METHODS = {"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS"}


@router.get("/metrics", operation_id="metrics", response_class=Response)
def metrics() -> Response:
    """Figures for a monitoring system, in the Prometheus text format."""
    return Response(generate_latest(_registry), media_type=CONTENT_TYPE_LATEST)


def request_ended(scope: Scope, status: int, seconds: float) -> None:
    """Count a request; unknown addresses and methods count as one, so that nobody fills the memory with them."""
    route = getattr(scope.get("route"), "path", "unknown")
    method = scope["method"] if scope["method"] in _METHODS else "other"
    _requests.labels(method, route, status).inc()
    _seconds.labels(method, route).observe(seconds)


def job_ended(kind: str, state: str) -> None:
    """Count a job that has ended."""
    _jobs.labels(kind, state).inc()
