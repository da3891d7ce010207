"""The kinds of problem, each at the address that a problem's ``type`` names (RFC 9457)."""

from typing import Annotated

from fastapi import APIRouter
from pydantic import BaseModel, Field

from service.api.asked import AskedRoute
from service.api.problem_kinds import ADDRESS, KINDS, address_of
from service.errors import NotFound

router = APIRouter(route_class=AskedRoute, tags=["problems"])


class ProblemKind(BaseModel):
    """A kind of problem."""

    type: Annotated[str, Field(description="its address, as in the problems themselves")]
    title: str
    status: Annotated[int, Field(ge=100, le=599)]
    meaning: Annotated[str, Field(description="what it says of the request")]
    next_step: Annotated[str, Field(description="what whoever asked can do")]


class ProblemKinds(BaseModel):
    """Every kind."""

    kinds: tuple[ProblemKind, ...]


@router.get(ADDRESS.rstrip("/"), operation_id="list_problem_kinds", summary="Every kind of problem")
async def list_problem_kinds() -> ProblemKinds:
    """What the field `type` of a problem may be."""
    return ProblemKinds(kinds=tuple(map(_kind, KINDS)))


@router.get(
    f"{ADDRESS}{{name}}",
    operation_id="get_problem_kind",
    summary="What a kind of problem means, and what to do about it",
)
async def get_problem_kind(name: str) -> ProblemKind:
    """The address is the `type` of the problems of this kind."""
    if name not in KINDS:
        raise NotFound(
            f"No kind of problem is named {name!r}.", next_step=f"See GET {ADDRESS.rstrip('/')}."
        )
    return _kind(name)


def _kind(name: str) -> ProblemKind:
    kind = KINDS[name]
    return ProblemKind(
        type=address_of(name),
        title=kind.title,
        status=kind.status,
        meaning=kind.meaning,
        next_step=kind.next_step,
    )
