"""Every refusal of the service, as problem documents (RFC 9457); the list of their types is kept here.

A feature raises one of the classes below; ``install`` turns them, the planner's refusals, the framework's own and
any unforeseen error into ``application/problem+json``. An unforeseen error says nothing of what is inside.

Sources: RFC 9457 (problem details); RFC 9110 §13, §15 (preconditions, status codes); RFC 6585 (428, 429).
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from rfc9457 import StatusProblem

if TYPE_CHECKING:
    from collections.abc import Sequence

TYPE_TEMPLATE = "/problems/{type}"
"""A problem's ``type`` is a path of the service that explains it."""


class ServiceProblem(StatusProblem):
    """A refusal that the caller is told about; subclasses fix status, type and title.

    Attributes:
        help: what the type means and what to do about it, for the documentation.
    """

    help = ""


class Internal(ServiceProblem):
    """An error on our side."""

    type_ = "internal-error"
    title = "Something went wrong here"
    status = 500
    help = "An error on our side. Nothing was stored. The X-Request-ID of the answer finds it in the log."

    def __init__(self, _detail: object = None, *, found_by: str = "the X-Request-ID of this answer") -> None:
        """Say nothing of what is inside, whatever was passed; say by what it is found in the log."""
        super().__init__(f"the error is in our log under {found_by}")


class Malformed(ServiceProblem):
    """The request alone is wrong, whatever is stored."""

    type_ = "malformed"
    title = "The request is malformed"
    status = 422
    help = "Each entry of `errors` names a field, what was wanted there and what came. Nothing was stored."

    def __init__(self, field: str, wanted: str, got: object) -> None:
        """Name one field; ``got`` is shortened for display."""
        self.errors: list[dict[str, str]] = [{"field": field, "wanted": wanted, "got": shown(got)}]
        super().__init__(f"{field}: wanted {wanted}", field=field, errors=self.errors)

    @classmethod
    def of(cls, errors: Sequence[dict[str, str]]) -> Malformed:
        """One problem for several fields; each entry has ``field``, ``wanted``, ``got``."""
        first = errors[0]
        problem = cls(first["field"], first["wanted"], "")
        problem.errors[:] = errors
        return problem


class Unauthorised(ServiceProblem):
    """No key, or one that opens nothing."""

    type_ = "no-key"
    title = "A key is needed"
    status = 401
    help = (
        "Send `Authorization: Bearer ww_…`. A key that is unknown, revoked or past its expiry counts as none."
    )

    def __init__(self) -> None:
        """Say the same in every case, so that nothing is learnt about keys."""
        super().__init__("send a valid key as a Bearer token", headers={"WWW-Authenticate": "Bearer"})


class Forbidden(ServiceProblem):
    """The key is good, but not for this."""

    type_ = "scope-too-small"
    title = "This key may not do that"
    status = 403
    help = "The key's scope (read, write or admin) is too small for the operation."


class NotFound(ServiceProblem):
    """Nothing of that name in this fleet; another fleet's rows count as nothing."""

    type_ = "not-found"
    title = "Not found"
    status = 404
    help = "There is no such thing, or it belongs to another fleet: the answer is the same."


class WrongMethod(ServiceProblem):
    """The address is known, the method is not."""

    type_ = "wrong-method"
    title = "That method is not offered here"
    status = 405
    help = "The Allow header lists the methods of this address."


class Conflict(ServiceProblem):
    """Well formed, but at odds with what is stored."""

    type_ = "conflict"
    title = "That conflicts with what is stored"
    status = 409
    help = (
        "The body is well formed, but a stored record says otherwise. `detail` names it; nothing was stored."
    )

    def __init__(self, detail: str, *, field: str | None = None, **extra: Any) -> None:
        """Say what it conflicts with, and which field does."""
        named = extra if field is None else {"field": field, **extra}
        super().__init__(detail, **named)


class TwinRunning(ServiceProblem):
    """A request with the same Idempotency-Key is still being worked on."""

    type_ = "twin-still-running"
    title = "The first request with this Idempotency-Key has not finished"
    status = 409
    help = "Repeat the same request after Retry-After seconds; you will get the first one's answer."

    def __init__(self, retry_after: int = 5) -> None:
        """Say when to come back, in seconds."""
        super().__init__("wait for the first one", headers={"Retry-After": str(retry_after)})


class ImportRunning(ServiceProblem):
    """A fleet's files are taken in one after the other."""

    type_ = "import-at-work"
    title = "Another import of this fleet is at work"
    status = 409
    help = "Send the file again after Retry-After seconds, or when the job of the other import has ended."

    def __init__(self, import_id: str, retry_after: int = 2) -> None:
        """Name the other one, and say when to come back, in seconds."""
        super().__init__(f"import {import_id} is at work", headers={"Retry-After": str(retry_after)})


class RowsRefused(ServiceProblem):
    """A file holds rows that cannot be taken, and none of it was."""

    type_ = "rows-refused"
    title = "The file holds rows that cannot be taken"
    status = 422
    help = (
        "Nothing of the file was stored. `errors` names the first faults with their rows; all are under "
        "`/v1/imports/{id}/errors`. An import with `bad_rows: skip` takes the good rows alone."
    )

    def __init__(self, rows: int, bad: int, errors: list[dict[str, Any]]) -> None:
        """Say how many rows are bad, and what is wrong with the first."""
        super().__init__(f"{bad:,} of {rows:,} rows cannot be taken", errors=errors)


class Cannot(ServiceProblem):
    """The stored data cannot carry what was asked for."""

    type_ = "data-cannot-carry"
    title = "The records cannot carry that"
    status = 409
    help = (
        "A fit without a prior needs failures that say how long a part lasts; `detail` says what is missing."
    )


class PreconditionFailed(ServiceProblem):
    """Somebody else has changed it."""

    type_ = "changed-meanwhile"
    title = "It has changed since you read it"
    status = 412
    help = "The entity tag in If-Match is not the current one. Read again, then repeat the change."


class PreconditionRequired(ServiceProblem):
    """A change without If-Match."""

    type_ = "if-match-needed"
    title = "Say which state you are changing"
    status = 428
    help = "A change needs `If-Match` with the entity tag that you read (or `*`)."

    def __init__(self) -> None:
        """The detail is always the same."""
        super().__init__("send If-Match with the entity tag of the state that you read")


class TooLarge(ServiceProblem):
    """A body over the limit."""

    type_ = "too-large"
    title = "The body is too large"
    status = 413
    help = "`limit` is the largest body in bytes that this operation takes."


class WrongMedia(ServiceProblem):
    """A body in a media type or encoding that is not taken."""

    type_ = "wrong-media-type"
    title = "That kind of body is not taken here"
    status = 415
    help = "Send `application/json` in UTF-8 without a content encoding."


class TooManyRequests(ServiceProblem):
    """Over the rate limit."""

    type_ = "too-many-requests"
    title = "Too many requests"
    status = 429
    help = "Wait for as many seconds as Retry-After says."


class Busy(ServiceProblem):
    """The database did not get round to it in time."""

    type_ = "busy"
    title = "Busy: try again"
    status = 503
    help = "Another change held the records too long. Nothing was stored; repeat after Retry-After seconds."

    def __init__(
        self, detail: str = "another change held the records too long", retry_after: int = 5
    ) -> None:
        """Say when to come back, in seconds."""
        super().__init__(detail, headers={"Retry-After": str(retry_after)})


def shown(value: object, limit: int = 80) -> str:
    """A value for display in a problem: as written, shortened, in characters that UTF-8 can carry."""
    text = value if isinstance(value, str) else value.isoformat() if isinstance(value, date) else repr(value)
    text = text[:limit].encode("utf-8", "backslashreplace").decode()
    return text if len(text) <= limit else text[: limit - 1] + "…"


def kinds() -> dict[str, type[ServiceProblem]]:
    """Every problem type by its name, for the documentation."""
    return {str(cls.type_): cls for cls in ServiceProblem.__subclasses__()}
