"""HTTP for putting work off."""

from fastapi import APIRouter, Response, status

from api.put_off import service
from api.put_off.schemas import PutOffCreate, PutOffOut
from api.schedules.routes import AsOf
from api.security import Reader, Writer
from api.storage.session import ReadSession, WriteSession
from api.web.once import OnceRoute

router = APIRouter(prefix="/v1/fitments", tags=["what comes due"], route_class=OnceRoute)


@router.post("/{fitment_id}/put-off", status_code=status.HTTP_201_CREATED)
def create_put_off(
    fitment_id: str, body: PutOffCreate, who: Writer, session: WriteSession, response: Response
) -> PutOffOut:
    """Put a renewal off until a day, or decline it, with a reason; a later decision replaces an earlier one.

    The part stays in every list, with the reason as accepted risk. A hard cap or a risk limit is not moved: the day stops
    there, and the warning stays as long as the decision does.
    """
    decision = service.put_off(session, who, fitment_id, body)
    response.headers["Location"] = f"/v1/fitments/{fitment_id}/put-off"
    return decision


@router.get("/{fitment_id}/put-off")
def read_put_off(fitment_id: str, who: Reader, session: ReadSession, as_of: AsOf = None) -> PutOffOut:
    """The decision that stands about a part, and when the part is due under it."""
    return service.read(session, who, fitment_id, as_of or who.today())


@router.delete("/{fitment_id}/put-off", status_code=status.HTTP_204_NO_CONTENT)
def delete_put_off(fitment_id: str, who: Writer, session: WriteSession) -> None:
    """Take a decision back: the part is due again as it was."""
    service.take_back(session, who, fitment_id)
