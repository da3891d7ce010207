"""A planting plan, JSON or CSV in; JSON, the printable report, GeoJSON or CSV out."""

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response

from service.api.asked import AskedRoute, refuse_beside_body
from service.api.limits import LARGE_PLAN, check_geojson, check_labels, take_turn
from service.api.negotiation import accepted, body_of, sent_type
from service.api.parameters import POSITION_SCHEMA, AsOf, LibraryNow
from service.api.schemas import body_schema
from service.api.working import in_thread
from service.checks.plan.check import check_plan
from service.checks.plan.request import Plan
from service.checks.plan.values import PlanAnswer
from service.input.geometry_schema import FEATURE_COLLECTION
from service.input.json_document import parse_json
from service.input.person import read_position, today
from service.input.plan import read_plan
from service.input.plan_document import PlanDocument
from service.input.plan_table import read_plan_table
from service.output.html.report import report_policy
from service.output.models.plan import plan_json
from service.output.models.shape import schema_class
from service.output.plan import (
    CALENDAR,
    CSV,
    GEOJSON,
    GEOPACKAGE,
    HTML,
    JSON,
    plan_geopackage,
    write_plan,
)
from service.settings import settings
from service.store.deadline import check as check_deadline
from service.store.library import Library

router = APIRouter(route_class=AskedRoute, prefix="/v1/plan-checks", tags=["plans"])

OUT = (JSON, HTML, GEOJSON, CSV, CALENDAR, GEOPACKAGE)

_OF_A_TABLE = ("at", "state", "county", "zip", "hardiness_zone")
"""Parameters that say of a table what a document says itself."""

_BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {
            JSON: {"schema": body_schema(PlanDocument)},
            CSV: {
                "schema": {"type": "string"},
                "example": "label,count,place,place_kind\r\n"
                "Pontederia cordata,6,Mill pond,pond\r\n",
            },
        },
    },
    "responses": {
        "200": {
            "content": {
                JSON: {},
                HTML: {"schema": {"type": "string"}},
                GEOJSON: {"schema": FEATURE_COLLECTION},
                CSV: {"schema": {"type": "string"}},
                CALENDAR: {"schema": {"type": "string"}},
                GEOPACKAGE: {"schema": {"type": "string", "format": "binary"}},
            }
        }
    },
}


@router.post(
    "",
    operation_id="check_plan",
    summary="A planting plan, answered: site, law, fit, escape, containment, what instead",
    response_model=schema_class(PlanAnswer),
    openapi_extra=_BODY,
)
async def check(
    request: Request,
    library: LibraryNow,
    explain: Annotated[
        bool, Query(description="with every factor, and what each chance of escape hangs on")
    ] = False,
    brief: Annotated[
        bool, Query(description="of the report, the two pages for the client alone")
    ] = False,
    at: Annotated[
        str | None,
        Query(
            max_length=60,
            description="longitude,latitude of the site, with a CSV body",
            json_schema_extra=POSITION_SCHEMA,
        ),
    ] = None,
    state: Annotated[
        str | None,
        Query(max_length=40, description="state of the site, with a CSV body", examples=["US-OH"]),
    ] = None,
    county: Annotated[
        str | None, Query(max_length=80, description="county of the site, with a CSV body")
    ] = None,
    zip_code: Annotated[
        str | None,
        Query(alias="zip", max_length=10, description="ZIP code of the site, with a CSV body"),
    ] = None,
    hardiness_zone: Annotated[
        str | None, Query(max_length=20, description="of the site, with a CSV body")
    ] = None,
    on: AsOf = None,
) -> Response:
    """For each planting: what it is, what the law lists say, whether it would live, could
    escape and how it is contained, and what to plant instead."""
    kind = sent_type(request, (JSON, CSV))
    wanted = accepted(request, OUT)
    body = await body_of(request, settings().max_body_bytes)

    def read() -> Plan:
        if kind == CSV:
            site = {
                "state": state,
                "county": county,
                "zip": zip_code,
                "hardiness_zone": hardiness_zone,
            }
            geometry = (
                {"type": "Point", "coordinates": list(read_position(at, "at"))}
                if at is not None
                else None
            )
            plan = read_plan_table(body, site={**site, "geometry": geometry})
        else:
            refuse_beside_body(name for name in _OF_A_TABLE if name in request.query_params)
            document = parse_json(body)
            check_geojson(document, settings())
            plan = read_plan(document)
        check_labels([planting.label for planting in plan.plantings], settings(), "/plantings")
        return plan

    plan = await in_thread(request, read)
    if len(plan.plantings) >= LARGE_PLAN:
        await take_turn(request)
    return await in_thread(
        request,
        lambda: answered(library, plan, on or today(), wanted, explain=explain, brief=brief),
    )


def answered(
    library: Library, plan: Plan, on: date, wanted: str, *, explain: bool, brief: bool = False
) -> Response:
    """The answer of a plan in the media type wanted."""
    answer = check_plan(
        library,
        plan,
        on=on,
        explain=explain,
        border_tolerance_m=settings().border_tolerance_m,
        progress=lambda *_: check_deadline(),
    )
    if wanted == JSON:
        return Response(plan_json(answer, explain=explain), media_type=JSON)
    if wanted == GEOPACKAGE:
        return Response(plan_geopackage(answer), media_type=GEOPACKAGE)
    text = write_plan(library, answer, wanted, brief=brief)
    # The report brings its own style, which the policy of a page would not let in.
    headers = (
        {"Content-Security-Policy": f"{report_policy()}; frame-ancestors 'none'"}
        if wanted == HTML
        else None
    )
    return Response(
        text,
        media_type=wanted if wanted == GEOJSON else f"{wanted}; charset=utf-8",
        headers=headers,
    )
