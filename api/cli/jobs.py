"""Subcommands about background work of a running service: jobs, job; and how others wait for theirs."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Annotated

import typer

from api.cli import output
from api.cli.application import app
from api.cli.options import DEFAULT_URL, AsJson, KeyFile, ServiceUrl, service
from api.cli.output import Column, Row
from api.refused import RefusedError

if TYPE_CHECKING:
    from api.client import Json, WearwrightClient

ENDED = frozenset({"succeeded", "failed", "cancelled"})
_PAUSE_SECONDS = 0.3


def far(row: Row) -> str:
    """How far a job is."""
    told = row["progress"]
    return f"{told['done']} of {told['total']} {told['doing']}" if told["total"] else str(told["doing"])


COLUMNS = (
    Column("Kind", "kind"),
    Column("State", "state", keep=True),
    Column("So far", far),
    Column("Asked for", "created_at"),
    Column("Id", "id", keep=True),
)
FIELDS = (
    *COLUMNS,
    Column("Started", "started_at"),
    Column("Finished", "finished_at"),
    Column(
        "Result",
        lambda row: "" if row["result"] is None else ", ".join(f"{k}: {v}" for k, v in row["result"].items()),
    ),
    Column("Problem", "problem.detail"),
)


def followed(client: WearwrightClient, job: Json, *, seconds: float = 3600.0) -> Json:
    """Wait for a job, telling how far it is.

    Raises:
        RefusedError: it failed or was cancelled; says why.
        TimeoutError: it had not ended in time; it goes on.
    """
    give_up = time.monotonic() + seconds
    with output.progress(job["kind"]) as tell:
        while job["state"] not in ENDED:
            if time.monotonic() > give_up:
                raise TimeoutError(
                    f"job {job['id']} is still {job['state']}; see `wearwright job {job['id']}`"
                )
            time.sleep(_PAUSE_SECONDS)
            job = client.job(job["id"])
            told = job["progress"]
            tell(told["done"], told["total"], told["doing"])
    if job["state"] != "succeeded":
        problem = job["problem"] or {}
        raise RefusedError(
            f"the job {job['state']}: {problem.get('detail') or problem.get('title') or job['id']}"
        )
    return job


@app.command()
def jobs(url: ServiceUrl = DEFAULT_URL, key_file: KeyFile = None, as_json: AsJson = False) -> None:
    """List the fleet's background work, latest first."""
    with service(url, key_file) as client:
        output.rows(client.jobs(limit=100), COLUMNS, as_json=as_json, none="no job was asked for yet")


@app.command()
def job(
    job_id: Annotated[str, typer.Argument(help="The job's id.")],
    wait: Annotated[
        bool, typer.Option("--wait", help="Wait for its end; a failure is exit status 1.")
    ] = False,
    cancel: Annotated[bool, typer.Option("--cancel", help="Ask it to stop.")] = False,
    url: ServiceUrl = DEFAULT_URL,
    key_file: KeyFile = None,
    as_json: AsJson = False,
) -> None:
    """Show one job."""
    with service(url, key_file) as client:
        found = client.cancel_job(job_id) if cancel else client.job(job_id)
        if wait:
            found = followed(client, found)
    output.record(found, FIELDS, as_json=as_json)
