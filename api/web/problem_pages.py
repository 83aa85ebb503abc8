"""What each problem type means: the page that a problem's ``type`` leads to, and a list of all of them."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path
from fastapi.responses import PlainTextResponse

from api.problems import NotFound, ServiceProblem, kinds

router = APIRouter(prefix="/problems", tags=["problems"], default_response_class=PlainTextResponse)


@router.get("", operation_id="list_problem_types")
def list_problem_types() -> str:
    """Every problem type of the service."""
    return "\n\n".join(_page(name, kind) for name, kind in sorted(kinds().items())) + "\n"


@router.get("/{name}", operation_id="read_problem_type")
def read_problem_type(name: Annotated[str, Path(examples=["malformed"])]) -> str:
    """What one problem type means."""
    kind = kinds().get(name)
    if kind is None:
        raise NotFound(f"no problem type {name}")
    return _page(name, kind) + "\n"


def _page(name: str, kind: type[ServiceProblem]) -> str:
    return f"{name} ({kind.status}): {kind.title}\n{kind.help}"
