"""HTTP for buying a car."""

from fastapi import APIRouter

from api.buying import service
from api.buying.schemas import BuyingListCreate, BuyingListOut
from api.security import Writer
from api.storage.session import ReadSession
from api.web.once import OnceRoute

router = APIRouter(prefix="/v1/buying-lists", tags=["buying a car"], route_class=OnceRoute)


@router.post("")
def create_buying_list(body: BuyingListCreate, who: Writer, session: ReadSession) -> BuyingListOut:
    """What to treat as due on a car on offer, and what its first two years may cost; nothing is stored.

    A part that no paper dates is treated as old. Lives, costs and limits are this fleet's, the book's where it has none.
    """
    return service.buying(session, who, body)
