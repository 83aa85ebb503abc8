"""Routes that only tests plant: errors of every sort, raised behind a real server."""

from datetime import datetime

from fastapi import APIRouter
from pydantic import Field
from sqlmodel import select

from api.schemas import Body, PastDate
from api.security import Reader, Writer
from api.storage.session import ReadSession, WriteSession
from api.storage.tables import Vehicle
from api.web.once import OnceRoute
from planner.errors import SpellError, TooFewFailures

INSIDE = "the inside of the service 4711"

router = APIRouter(prefix="/planted", route_class=OnceRoute)


class Anything(Body):
    number: float = 0.0
    name: str = "x"
    count: int = 0
    flag: bool | None = None
    day: PastDate | None = None
    moment: datetime | None = None
    inner: dict[str, float] = Field(default_factory=dict)


def _vehicle(who, name="planted"):
    return Vehicle(fleet_id=who.fleet_id, name=name, distance_unit="km")


@router.get("/unforeseen")
def unforeseen() -> None:
    raise RuntimeError(INSIDE)


@router.get("/wrong-answer")
def wrong_answer() -> Anything:
    return {"number": INSIDE}


@router.get("/wrong-input")
def wrong_input() -> None:
    raise SpellError("upper", "at least lower", -1)


@router.get("/no-fit")
def no_fit() -> None:
    raise TooFewFailures("two failures at least, there is one")


@router.post("/echo")
def echo(body: Anything, who: Writer) -> Anything:
    return body


@router.post("/fails-at-commit", status_code=201)
def fails_at_commit(who: Writer, session: WriteSession) -> dict[str, str]:
    """Two rows under one external_ref: nothing is written before the commit, which must fail before the answer."""
    first, second = _vehicle(who), _vehicle(who)
    first.external_ref = second.external_ref = "twice"
    session.add(first)
    session.add(second)
    return {"stored": "yes"}


@router.post("/fails-after-writing", status_code=201)
def fails_after_writing(who: Writer, session: WriteSession) -> None:
    session.add(_vehicle(who, "half done"))
    session.flush()
    raise RuntimeError(INSIDE)


@router.get("/writes-while-reading")
def writes_while_reading(who: Reader, session: ReadSession) -> None:
    session.add(_vehicle(who, "written by a GET"))
    session.flush()


@router.get("/names")
def names(who: Reader, session: ReadSession) -> list[str]:
    return list(session.exec(select(Vehicle.name).where(Vehicle.fleet_id == who.fleet_id)))
