"""The application: settings in, a service out."""

from __future__ import annotations

from contextlib import ExitStack, asynccontextmanager
from importlib import metadata
from typing import TYPE_CHECKING

from asgi_correlation_id import CorrelationIdMiddleware
from fastapi import Depends, FastAPI
from fastapi.concurrency import run_in_threadpool
from starlette.responses import Response

from api import background, health, logs, metrics, openapi
from api.backtests import routes as backtests
from api.buying import routes as buying
from api.calendar import routes as calendar
from api.conventions import NotModified
from api.digests import page_routes as digest_pages
from api.digests import routes as digests
from api.exports import routes as exports
from api.faults import routes as faults
from api.faults import shelf_routes as faults_shelf
from api.fleets import routes as fleets
from api.history import routes as history
from api.imports import routes as imports
from api.jobs import queue
from api.jobs import routes as jobs
from api.keys import routes as keys
from api.mail import routes as mail
from api.moved_parts import routes as moved_parts
from api.orders import routes as orders
from api.pages import routes as pages
from api.part_kinds import routes as part_kinds
from api.planned_use import routes as planned_use
from api.policies import routes as policies
from api.put_off import routes as put_off
from api.risks import routes as risks
from api.rules import routes as rules
from api.schedules import routes as schedules
from api.settings import Settings
from api.storage import dialect, schema
from api.storage.engine import Database
from api.tours import routes as tours
from api.vehicles import routes as vehicles
from api.visits import routes as visits
from api.web import problem_pages, query_names, refusals
from api.web.head_requests import HeadAsGet
from api.web.limits import BodyRules
from api.web.rates import Rates
from api.webhooks import routes as webhooks

if TYPE_CHECKING:
    from collections.abc import AsyncIterator

    from fastapi.routing import APIRoute
    from starlette.requests import Request

ROUTERS = (
    fleets.router,
    vehicles.router,
    history.router,
    part_kinds.router,
    rules.router,
    backtests.router,
    schedules.router,
    put_off.router,
    moved_parts.router,
    planned_use.router,
    visits.router,
    policies.router,
    orders.router,
    risks.router,
    tours.router,
    buying.router,
    faults.router,
    faults_shelf.router,
    calendar.router,
    imports.router,
    exports.router,
    digests.router,
    mail.router,
    webhooks.router,
    jobs.router,
    keys.router,
    health.router,
    metrics.router,
    problem_pages.router,
    digest_pages.pages,
    pages.router,
)
"""Every room's routes, in the order in which the documentation shows them."""


def create_app(settings: Settings | None = None) -> FastAPI:
    """Make the service.

    Args:
        settings: None reads them from the environment.

    Returns:
        An application that opens its database and starts its worker when the server starts it.
    """
    settings = settings or Settings()
    app = FastAPI(
        title="wearwright",
        summary="Plans the wear parts of ageing cars: patchy records in, dated and reasoned work out.",
        version=metadata.version("wearwright"),
        lifespan=_lifespan,
        generate_unique_id_function=_operation_id,
        redirect_slashes=False,
        dependencies=[Depends(query_names.only_known)],
    )
    app.state.settings = settings
    app.state.worker = None
    app.state.rates = Rates(settings.requests_per_minute)
    for router in ROUTERS:
        app.include_router(router)
    refusals.install(app)
    app.add_exception_handler(NotModified, _not_modified)
    openapi.install(app)
    app.add_middleware(HeadAsGet)
    app.add_middleware(BodyRules, max_body_bytes=settings.max_body_bytes)
    app.add_middleware(logs.RequestLog)
    app.add_middleware(CorrelationIdMiddleware)
    return app


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    """Open the database and start the worker; stop both at the end."""
    with ExitStack() as stack:
        await run_in_threadpool(_open, app, stack)
        yield
        await run_in_threadpool(stack.close)


def _open(app: FastAPI, stack: ExitStack) -> None:
    settings: Settings = app.state.settings
    database = Database(settings.database_url.get_secret_value())
    stack.callback(database.close)
    if settings.jobs:
        stack.enter_context(dialect.only_process(database.url))
    prepare(database, settings)
    app.state.database = database
    if settings.jobs:
        app.state.worker = stack.enter_context(background.working(database, settings))


def prepare(database: Database, settings: Settings) -> None:
    """See to it that tables and queue are those of this release.

    Raises:
        SchemaError: they are not, and may not be changed here.
    """
    may_migrate = database.is_sqlite if settings.migrate is None else settings.migrate
    schema.ready(database, may_migrate=may_migrate)
    if may_migrate:
        queue.prepare(database)


def _operation_id(route: APIRoute) -> str:
    """Operations are named after their functions."""
    return route.name


def _not_modified(_request: Request, unchanged: Exception) -> Response:
    tag = unchanged.tag if isinstance(unchanged, NotModified) else ""
    return Response(status_code=304, headers={"ETag": tag})
