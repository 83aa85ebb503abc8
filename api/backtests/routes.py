"""HTTP for looking back on predictions."""

from fastapi import APIRouter, Response, status

from api.backtests import service
from api.backtests.schemas import BacktestCreate, BacktestOut
from api.jobs import service as job_service
from api.jobs.schemas import JobOut
from api.part_kinds.service import found_kind
from api.security import Reader, Writer
from api.storage.session import ReadSession, WriteSession
from api.web.once import OnceRoute

router = APIRouter(prefix="/v1/part-kinds", tags=["part kinds"], route_class=OnceRoute)


@router.post("/{kind}/backtests", status_code=status.HTTP_202_ACCEPTED)
def create_backtest(
    kind: str, body: BacktestCreate, who: Writer, session: WriteSession, response: Response
) -> JobOut:
    """Ask how far predictions for a kind would have been right: made anew at past days, held against what came.

    The job tells how many past days are done. Where the records hold nothing to look back on, it fails with the reason.
    """
    job = service.ask(session, who, found_kind(kind), body)
    response.headers["Location"] = f"/v1/jobs/{job.id}"
    return job_service.shown(job)


@router.get("/{kind}/backtest")
def read_backtest(kind: str, who: Reader, session: ReadSession) -> BacktestOut:
    """What looking back on a kind gave when it was last asked for, with a verdict in words."""
    return service.read(session, who, found_kind(kind))
