"""Whether the process is alive, and whether it can serve."""

from typing import Literal

from fastapi import APIRouter, Request

from api.problems import Busy
from api.schemas import Answer
from api.storage import schema
from api.storage.session import database_of

router = APIRouter(tags=["health"])


class Health(Answer):
    """Nothing is wrong."""

    status: Literal["ok"] = "ok"


@router.get("/healthz", operation_id="healthz")
def healthz() -> Health:
    """The process is alive."""
    return Health()


@router.get("/readyz", operation_id="readyz", responses={503: {"description": "not ready to serve"}})
def readyz(request: Request) -> Health:
    """The database answers, its schema is the right one, and background work is done."""
    standing = schema.standing(database_of(request))
    if standing != "current":
        raise Busy(f"the database is {standing}")
    worker = request.app.state.worker
    if worker is not None and not worker.alive:
        raise Busy("background work has stopped")
    return Health()
