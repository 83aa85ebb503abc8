"""HTTP for parts to order."""

from typing import Annotated

from fastapi import APIRouter, Query

from api.orders import service
from api.orders.schemas import PartsToOrder
from api.schedules.routes import AsOf
from api.security import Reader
from api.storage.session import ReadSession
from api.web.once import OnceRoute

router = APIRouter(prefix="/v1", tags=["what comes due"], route_class=OnceRoute)


@router.get("/parts-to-order")
def read_parts_to_order(
    who: Reader,
    session: ReadSession,
    as_of: AsOf = None,
    months: Annotated[int, Query(ge=1, le=24, description="calendar months, the present one included")] = 6,
    chance: Annotated[
        float, Query(ge=0.5, le=0.999, description="the chance with which the number shall be enough")
    ] = 0.95,
    lead_days: Annotated[int, Query(ge=0, le=365, description="from order to delivery")] = 14,
) -> PartsToOrder:
    """What the fleet will want, kind by kind and month by month, with the hours that go with it.

    What the parts of a kind share is not known for certain, so the number that is enough is larger than if their failures
    were independent. Rubber, condensers and batteries age on the shelf: the answer says so.
    """
    return service.orders(session, who, service.Asked(as_of or who.today(), months, chance, lead_days))
