"""Many sites at once, and the jobs that long screenings run as."""

from dataclasses import replace
from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response

from service.api import problems
from service.api.asked import AskedRoute
from service.api.jobs import jobs_of, screening_task
from service.api.limits import LARGE_PLAN, check_geojson, check_labels, check_plantings, take_turn
from service.api.negotiation import accepted, body_of, sent_type
from service.api.parameters import AsOf, LibraryNow
from service.api.schemas import body_schema
from service.api.working import in_thread
from service.checks.community.screening import screen_community
from service.checks.community.values import Community, CommunityAnswer
from service.errors import NotFound
from service.input.community import read_community
from service.input.community_document import CommunityDocument
from service.input.geometry_schema import FEATURE_COLLECTION
from service.input.json_document import parse_json
from service.input.person import today
from service.output.community import write_form
from service.output.html.report import report_policy
from service.output.models.community import JobAnswer
from service.output.models.shape import schema_class, written
from service.output.plan import CSV, GEOJSON, GEOPACKAGE, HTML, JSON
from service.settings import settings
from service.shared.jobs import Job, TooManyJobs
from service.store.deadline import check as check_deadline
from service.store.library import Library

router = APIRouter(route_class=AskedRoute, tags=["plans"])

OUT = (JSON, HTML, GEOJSON, CSV, GEOPACKAGE)
AT_ONCE = 400
"""Plantings that are answered while the client waits; larger screenings become a job. Some
seconds of work (measured here).
"""

_FORMS: dict[str, Any] = {
    JSON: {},
    HTML: {"schema": {"type": "string"}},
    GEOJSON: {"schema": FEATURE_COLLECTION},
    CSV: {"schema": {"type": "string"}},
    GEOPACKAGE: {"schema": {"type": "string", "format": "binary"}},
}
_BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {
            GEOJSON: {"schema": body_schema(CommunityDocument)},
            JSON: {"schema": body_schema(CommunityDocument)},
        },
    },
    "responses": {"200": {"content": _FORMS}},
}
_RETRY_S = 1


@router.post(
    "/v1/community-screenings",
    operation_id="screen_community",
    summary="Many sites and the waters they share: what could come from where",
    description=f"Up to {AT_ONCE} plantings are answered at once. More, or any with "
    "`Prefer: respond-async`, are answered 202 with a job.",
    response_model=schema_class(CommunityAnswer),
    responses={
        202: {
            "model": schema_class(JobAnswer),
            "description": "Taken up as a job; its address is in Location",
        }
    },
    openapi_extra=_BODY,
)
async def screen(
    request: Request,
    library: LibraryNow,
    on: AsOf = None,
    begin: Annotated[
        bool, Query(description="always as a job, as with Prefer: respond-async")
    ] = False,
) -> Response:
    sent_type(request, (GEOJSON, JSON))
    wanted = accepted(request, OUT)
    body = await body_of(request, settings().max_body_bytes)
    community = await in_thread(request, lambda: _read(body))
    day = community.on or on or today()
    if begin or community.size > AT_ONCE or "respond-async" in request.headers.get("prefer", ""):
        return await in_thread(request, lambda: _begun(request, body, day))

    if community.size >= LARGE_PLAN:
        await take_turn(request)

    def worked_out() -> Response:
        return _sent(write_form(_screened(library, community, day), wanted), wanted)

    return await in_thread(request, worked_out)


@router.get(
    "/v1/jobs/{job_id}",
    operation_id="get_job",
    summary="How far a job has come: 202 while it is under way, 200 when it is finished",
    response_model=schema_class(JobAnswer),
    responses={
        202: {
            "model": schema_class(JobAnswer),
            "description": "Under way; ask again after Retry-After",
        }
    },
)
def get_job(request: Request, response: Response, job_id: str) -> JobAnswer:
    """Its state and how many of its parts are done."""
    job = jobs_of(request).get(job_id)
    if not job.finished:
        response.status_code = 202
        response.headers["Retry-After"] = str(_RETRY_S)
    return _job(job)


@router.get(
    "/v1/jobs/{job_id}/result",
    operation_id="get_job_result",
    summary="The answer of a job, once it is done",
    response_model=schema_class(CommunityAnswer),
    openapi_extra={"responses": {"200": {"content": _FORMS}}},
)
def get_job_result(request: Request, job_id: str) -> Response:
    """In any of the forms that the screening itself comes in."""
    jobs = jobs_of(request)
    job = jobs.get(job_id)
    if job.error is not None:
        raise job.error
    wanted = accepted(request, OUT)
    content = jobs.answer(job_id, wanted) if job.state == "done" else None
    if content is None:
        raise NotFound(
            f"The job {job_id!r} has no answer yet: it is {job.state}.",
            next_step=f"Ask GET /v1/jobs/{job_id} until it is done.",
        )
    return _sent(content, wanted)


@router.delete(
    "/v1/jobs/{job_id}",
    operation_id="cancel_job",
    summary="Give a job up, and forget its answer",
    response_model=schema_class(JobAnswer),
)
def cancel_job(request: Request, job_id: str) -> JobAnswer:
    """Work under way is stopped; an answer that is ready is forgotten."""
    jobs = jobs_of(request)
    job = jobs.get(job_id)
    jobs.cancel(job_id)
    return replace(_job(job), state="cancelled", result=None)


def _read(body: bytes) -> Community:
    document = parse_json(body)
    check_geojson(document, settings())
    community = read_community(document)
    check_plantings(community.size, settings())
    check_labels(
        [planting.label for site in community.sites for planting in site.plantings],
        settings(),
        "/features",
    )
    return community


def _begun(request: Request, body: bytes, day: date) -> Response:
    try:
        job = jobs_of(request).add(screening_task(body, day))
    except TooManyJobs as error:
        problem = problems.TOO_MANY.model_copy(
            update={"detail": error.detail, "next_step": error.next_step}
        )
        return problems.response_of(problem, {"Retry-After": "60"})
    sent = _job(job)
    headers = {
        "Location": sent.address,
        "Retry-After": str(_RETRY_S),
        "Preference-Applied": "respond-async",
    }
    return Response(written(sent), 202, headers, media_type=JSON)


def _screened(library: Library, community: Community, day: date) -> CommunityAnswer:
    return screen_community(
        library,
        community,
        on=day,
        border_tolerance_m=settings().border_tolerance_m,
        progress=lambda *_: check_deadline(),
    )


def _sent(content: bytes, wanted: str) -> Response:
    if wanted in (JSON, GEOJSON, GEOPACKAGE):
        return Response(content, media_type=wanted)
    # The summary brings its own style, which the policy of a page would not let in.
    headers = (
        {"Content-Security-Policy": f"{report_policy()}; frame-ancestors 'none'"}
        if wanted == HTML
        else None
    )
    return Response(content, media_type=f"{wanted}; charset=utf-8", headers=headers)


def _job(job: Job) -> JobAnswer:
    address = f"/v1/jobs/{job.job_id}"
    return JobAnswer(
        job_id=job.job_id,
        state=job.state,
        done=job.done,
        total=job.total,
        address=address,
        result=f"{address}/result" if job.state == "done" else None,
        detail=job.error.detail if job.error else "",
    )
