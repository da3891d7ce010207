"""Whether the service lives, whether it can answer, and what it counts."""

from collections.abc import Iterable
from datetime import date
from typing import Annotated, Literal

from fastapi import APIRouter, Request, Response
from fastapi.concurrency import run_in_threadpool
from pydantic import BaseModel, Field

from service.api import problems
from service.api.asked import AskedRoute
from service.api.bodies import Places
from service.api.metrics import MEDIA_TYPE, Metrics
from service.api.parameters import LibraryNow, store_handle
from service.api.problems import Refused
from service.errors import SharedAway, StoreError
from service.input.person import today
from service.regulation.law import ListVersion
from service.settings import Settings
from service.shared.jobs import JobHome
from service.store.library import Library
from service.store.tokens import TokenKeeper
from service.values.vocabulary import ListId


def due_for_review(
    versions: Iterable[ListVersion], on: date, months: int
) -> tuple[ListVersion, ...]:
    """The versions in force whose copy is older than so many months; a copy without a date is
    not among them.
    """
    return tuple(
        version
        for version in versions
        if version.in_force(on)
        and version.read_copy_date
        and _months(version.read_copy_date, on) > months
    )


def undated(versions: Iterable[ListVersion], on: date) -> tuple[ListVersion, ...]:
    """The versions in force whose copy has no date, so that nobody can tell how old the
    reading is.
    """
    return tuple(
        version for version in versions if version.in_force(on) and not version.read_copy_date
    )


def _months(copy_date: str, on: date) -> int:
    """Whole months since a date known to the year, the month or the day; an open part counts
    from its earliest.
    """
    year, month, day = (*(int(part) for part in copy_date.split("-")), 1, 1)[:3]
    return (on.year - year) * 12 + on.month - month - (on.day < day)


router = APIRouter(route_class=AskedRoute, tags=["health"])


class Live(BaseModel):
    """The process answers."""

    status: Literal["live"] = "live"


class Ready(BaseModel):
    """The service can answer, with what the operator should look at all the same."""

    status: Literal["ready"] = "ready"
    store_build: str
    plants: int
    lists: int
    due_for_review: Annotated[
        tuple[ListId, ...],
        Field(description="lists whose copy was read longer ago than the setting allows"),
    ] = ()
    undated_copies: Annotated[int, Field(description="lists whose copy has no date")] = 0
    store_refused: Annotated[
        str | None,
        Field(
            description="why the file now in place, or the build now published, is not used, "
            "where the last good build answers instead"
        ),
    ] = None


class ReviewDue(StoreError):
    """A list is due for review, and the operator has said that the service shall not answer
    then.
    """

    title = "A list is due for review"


@router.get("/health/live", operation_id="is_live", summary="The process answers")
async def is_live() -> Live:
    """Answers as long as the process runs, with a store or without."""
    return Live()


@router.get(
    "/health/ready",
    operation_id="is_ready",
    summary="The store is open and the law is read; 503 with the reason otherwise",
)
async def is_ready(request: Request, library: LibraryNow) -> Ready:
    """Names what the operator should look at: lists due for review, a build that is not used."""
    config: Settings = request.app.state.config
    places: Places = request.app.state.places
    if not places.free:
        raise Refused(problems.BUSY, {"Retry-After": "1"})
    tokens: TokenKeeper = request.app.state.tokens
    await run_in_threadpool(tokens.tokens)
    due = _due(library, config)
    if due and config.review_strict:
        raise ReviewDue(
            f"Read more than {config.review_months} months ago: {', '.join(due)}.",
            next_step="Read them again and load the new copies, or see REEDGATE_REVIEW_STRICT.",
        )
    refusal = store_handle(request).refusal
    return Ready(
        store_build=library.build_id,
        plants=len(library.plants),
        lists=len(library.law.versions),
        due_for_review=due,
        undated_copies=len(undated(library.law.versions, today())) if config.review_months else 0,
        store_refused=refusal.detail if refusal else None,
    )


@router.get(
    "/metrics",
    operation_id="get_metrics",
    summary="Counts and durations in the Prometheus text format",
    response_class=Response,
    responses={200: {"content": {"text/plain": {"schema": {"type": "string"}}}}},
)
def get_metrics(request: Request) -> Response:
    """For Prometheus; counted by route, never by what was asked."""
    metrics: Metrics = request.app.state.metrics
    library = store_handle(request).cached()
    due = len(_due(library, request.app.state.config)) if library else None
    home: JobHome = request.app.state.jobs
    try:
        jobs = home.counts()
    except SharedAway:
        jobs = {}
    return Response(
        metrics.text(store_handle(request), due, jobs), headers={"Content-Type": MEDIA_TYPE}
    )


def _due(library: Library, config: Settings) -> tuple[ListId, ...]:
    if not config.review_months:
        return ()
    return tuple(
        dict.fromkeys(
            version.list_id
            for version in due_for_review(library.law.versions, today(), config.review_months)
        )
    )
