"""A form as a page: before anything is wrong, and after it was sent."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.responses import HTMLResponse, RedirectResponse, Response

from api.pages import form_content
from api.pages.forms import Filled, refused
from api.pages.shell import page, problem_of
from api.pages.storing import store
from api.storage.session import database_of, reading

if TYPE_CHECKING:
    from collections.abc import Mapping

    from fastapi import Request
    from sqlmodel import Session

    from api.pages.entries import Entry
    from api.pages.visitors import Visitor


def empty(request: Request, session: Session, visitor: Visitor, entry: Entry, place: str) -> HTMLResponse:
    """The form before anything is wrong, with the fields of the address filled in."""
    asked = entry.form.fields(request.query_params)
    around = _around(session, visitor, entry, place, asked)
    again = "again" in request.query_params
    filled = Filled({**around.defaults, **asked}, general=(form_content.AGAIN,) if again else ())
    return page(request, f"form_{entry.form.name}.html", form=filled, **around.shown)


def sent_in(
    request: Request, visitor: Visitor, entry: Entry, place: str, sent: Mapping[str, str]
) -> Response:
    """Store what was sent; or the form again, with what was written kept and what was wrong beside it."""
    try:
        return RedirectResponse(store(request, visitor.who, place, entry, sent), 303)
    except Exception as error:
        problem = problem_of(error)
        if problem["status"] not in form_content.MENDABLE:
            raise
    with reading(database_of(request)) as session:
        around = _around(session, visitor, entry, place, sent)
    filled = refused(entry.form, sent, problem)
    template = f"form_{entry.form.name}.html"
    return page(request, template, status=problem["status"], form=filled, **around.shown)


def _around(
    session: Session, visitor: Visitor, entry: Entry, place: str, fields: Mapping[str, str]
) -> form_content.Around:
    if entry.look is not None:
        return entry.look(session, visitor.who, place, fields)
    return form_content.around(session, visitor.who, entry.form.name, place)
