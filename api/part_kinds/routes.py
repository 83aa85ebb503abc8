"""HTTP for part kinds: catalogue, settings, lives, refits."""

from typing import Annotated

from fastapi import APIRouter, Depends, Query, Response, status

from api.conventions import IfMatch, require_match, send_tag
from api.jobs import service as job_service
from api.jobs.schemas import JobOut
from api.part_kinds import answers, service, store
from api.part_kinds.life_schemas import LifeOut
from api.part_kinds.schemas import KindSettingsOut, KindSettingsPut, PartKindOut
from api.schemas import Page
from api.security import Reader, Writer, reader
from api.storage.session import ReadSession, WriteSession
from api.web.once import OnceRoute
from planner.catalogue import load_catalogue
from planner.units import DistanceUnit

router = APIRouter(prefix="/v1/part-kinds", tags=["part kinds"], route_class=OnceRoute)


@router.get("", dependencies=[Depends(reader)])
def list_part_kinds() -> Page[PartKindOut]:
    """Every part kind of the catalogue, by family; one page."""
    return Page(items=[answers.kind_out(kind) for kind in load_catalogue().values()])


@router.get("/{kind}", dependencies=[Depends(reader)])
def read_part_kind(kind: str) -> PartKindOut:
    """One part kind: its clocks by the book, limit, cautions, what its failure does."""
    return answers.kind_out(service.found_kind(kind))


@router.get("/{kind}/settings")
def read_settings(kind: str, who: Reader, session: ReadSession, response: Response) -> KindSettingsOut:
    """This fleet's settings for a kind, and what is in force with the catalogue's figures filled in."""
    entry = service.found_kind(kind)
    row = store.settings(session, who.fleet_id, kind)
    if row is not None:
        send_tag(response, row)
    life = store.current_life(session, who.fleet_id, kind)
    return answers.settings_out(entry, row, life, who.currency)


@router.put("/{kind}/settings")
def put_settings(
    kind: str,
    body: KindSettingsPut,
    who: Writer,
    session: WriteSession,
    response: Response,
    if_match: IfMatch = None,
) -> KindSettingsOut:
    """Replace this fleet's settings for a kind; If-Match is heeded where it is sent.

    Costs, cap, risk limit and new-part fault are applied by the job that the answer names. Prior and clocks take
    effect at the next refit. No setting lengthens a limit of the catalogue.
    """
    entry = service.found_kind(kind)
    row = service.held_settings(session, who.fleet_id, kind)
    if row is not None and if_match is not None:
        require_match(if_match, row)
    row, job = service.put_settings(session, who, entry, body, row)
    send_tag(response, row)
    life = store.current_life(session, who.fleet_id, kind)
    return answers.settings_out(entry, row, life, who.currency, job)


@router.get("/{kind}/life")
def read_life(
    kind: str,
    who: Reader,
    session: ReadSession,
    unit: Annotated[DistanceUnit, Query(description="unit of the distances in the answer")] = "km",
) -> LifeOut:
    """How long parts of this kind last, as this fleet's answers take it: by the book, or fitted to its records."""
    entry = service.found_kind(kind)
    row = store.current_life(session, who.fleet_id, kind)
    return answers.life_out(entry, row, store.settings(session, who.fleet_id, kind), unit)


@router.post("/{kind}/refits", status_code=status.HTTP_202_ACCEPTED)
def create_refit(kind: str, who: Writer, session: WriteSession, response: Response) -> JobOut:
    """Ask for a new fit from all of this fleet's records; the job says what came of it.

    Where the records cannot carry a fit, the job fails with the reason and the life before stays in force.
    """
    job = service.ask_for_refit(session, who, service.found_kind(kind))
    response.headers["Location"] = f"/v1/jobs/{job.id}"
    return job_service.shown(job)
