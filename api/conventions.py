"""What every route does the same way: entity tags and preconditions, lists in pages.

Sources: RFC 9110 §8.8.3 (ETag), §13.1 (If-Match, If-None-Match); RFC 6585 §3 (428); RFC 8288 (Link).
"""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated, Any, Protocol, TypeVar
from urllib.parse import urlencode

from fastapi import Depends, Header, Query, Request, Response
from sqlakeyset import InvalidPage, select_page
from sqlalchemy.exc import StatementError
from sqlalchemy.orm import object_session
from sqlmodel import Session

from api.problems import NotFound, PreconditionFailed, PreconditionRequired
from api.storage import dialect

if TYPE_CHECKING:
    from sqlmodel.sql.expression import SelectOfScalar

RowT = TypeVar("RowT")

IfMatch = Annotated[
    str | None,
    Header(alias="If-Match", description="entity tag of the state that is changed, or *", max_length=1000),
]
IfNoneMatch = Annotated[
    str | None, Header(alias="If-None-Match", description="entity tags already held", max_length=1000)
]


class Versioned(Protocol):
    """Something with an identity and a version, mostly a row."""

    @property
    def id(self) -> str:
        """Its identity."""

    @property
    def version(self) -> int:
        """Counts its changes."""


class NotModified(Exception):  # noqa: N818 - an answer, not an error
    """The caller holds the current state already; answered with 304 and the entity tag."""

    def __init__(self, tag: str) -> None:
        self.tag = tag
        super().__init__(tag)


def entity_tag(row: Versioned) -> str:
    """The strong entity tag of a row's state."""
    return f'"{row.id[:8]}-{row.version}"'


def send_tag(response: Response, row: Versioned) -> None:
    """Put the entity tag on an answer that shows the row; changes waiting to be written are written first."""
    session = object_session(row)
    if session is not None:
        session.flush()
    response.headers["ETag"] = entity_tag(row)


def require_match(if_match: str | None, row: Versioned) -> None:
    """Let a change through only if the caller knows the state that it changes.

    Raises:
        PreconditionRequired: no If-Match.
        PreconditionFailed: it names another state.
    """
    if if_match is None:
        raise PreconditionRequired
    if not _names(if_match, entity_tag(row), weak=False):
        raise PreconditionFailed("the entity tag in If-Match is not the current one")


def unless_held(if_none_match: str | None, row: Versioned) -> None:
    """Stop a read whose answer the caller holds already.

    Raises:
        NotModified: If-None-Match names the current state.
    """
    if if_none_match is not None and _names(if_none_match, entity_tag(row), weak=True):
        raise NotModified(entity_tag(row))


def _names(header: str, tag: str, *, weak: bool) -> bool:
    """Whether a list of entity tags names this one; weak comparison ignores the W/ mark."""
    named = [part.strip() for part in header.split(",")]
    if weak:
        named = [part.removeprefix("W/") for part in named]
    return "*" in named or tag in named


@dataclass(frozen=True)
class Paging:
    """Which page was asked for, and where its neighbours' addresses are written.

    Attributes:
        limit: largest number of items.
        cursor: from a Link header; None: the first page.
        external_ref: only the record that another system knows by this name; None: all.
    """

    limit: int
    cursor: str | None
    request: Request
    response: Response
    external_ref: str | None = None


def _paging(
    request: Request,
    response: Response,
    limit: Annotated[int, Query(ge=1, le=200, description="most items on the page")] = 50,
    cursor: Annotated[
        str | None, Query(max_length=1000, pattern=r"^[^\u0000]*$", description="from the Link header")
    ] = None,
) -> Paging:
    return Paging(limit, cursor, request, response)


PageAsked = Annotated[Paging, Depends(_paging)]


RefAsked = Annotated[
    str | None,
    Query(
        min_length=1,
        max_length=200,
        pattern=r"^[^\u0000]*$",
        description="only the record that another system knows by this name",
    ),
]


def _paging_of_records(asked: PageAsked, external_ref: RefAsked = None) -> Paging:
    return replace(asked, external_ref=external_ref)


RecordsAsked = Annotated[Paging, Depends(_paging_of_records)]
"""The same for records that may carry another system's name."""


def page_of(session: Session, statement: "SelectOfScalar[RowT]", asked: Paging) -> list[RowT]:
    """The rows of the page that was asked for; writes the Link header.

    Args:
        session: any session.
        statement: one entity or column, ordered by columns that together are unique.
        asked: the page.

    Raises:
        NotFound: the cursor is none that a Link header gave.
    """
    try:
        chosen: Any = statement  # the library's stubs know only selects of tuples
        if asked.external_ref is not None:
            chosen = chosen.where(chosen.column_descriptions[0]["entity"].external_ref == asked.external_ref)
        page = select_page(session, chosen, per_page=asked.limit, page=asked.cursor)
    except (InvalidPage, TypeError, ValueError, StatementError) as error:
        if asked.cursor is None or dialect.is_lock_timeout(error):
            raise
        raise NotFound("no page of that cursor: follow the Link headers") from error
    paging = page.paging
    links = []
    if paging.has_next:
        links.append(_link(asked, paging.bookmark_next, "next"))
    if paging.has_previous:
        links.append(_link(asked, paging.bookmark_previous, "prev"))
    if links:
        asked.response.headers["Link"] = ", ".join([*links, _link(asked, None, "first")])
    rows: list[Any] = [row[0] for row in page]
    return rows


def _link(asked: Paging, cursor: str | None, relation: str) -> str:
    """A link to another page of the same list, as a reference relative to this host."""
    query = [(name, value) for name, value in asked.request.query_params.multi_items() if name != "cursor"]
    if cursor is not None:
        query.append(("cursor", cursor))
    target = asked.request.url.path + ("?" + urlencode(query) if query else "")
    return f'<{target}>; rel="{relation}"'
