"""The changes of the law for feed readers."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from service.api.asked import AskedRoute
from service.api.parameters import Day, JurisdictionText, LibraryNow
from service.input.person import read_jurisdiction, today
from service.output.atom import MEDIA_TYPE, changes_feed
from service.regulation.changes import changes_between

router = APIRouter(route_class=AskedRoute, tags=["law"])

_SPAN_DAYS = 365


@router.get(
    "/v1/changes.atom",
    operation_id="get_changes_feed",
    summary="How the law loaded here changed, for feed readers (Atom, RFC 4287)",
    response_class=Response,
    responses={200: {"content": {MEDIA_TYPE: {"schema": {"type": "string"}}}}},
)
def get_changes_feed(
    library: LibraryNow,
    request: Request,
    jurisdiction_code: Annotated[
        JurisdictionText | None, Query(alias="jurisdiction", examples=["US-MN"])
    ] = None,
    since: Annotated[
        Day | None, Query(description="the earlier day; a year before the later one if not given")
    ] = None,
    until: Annotated[
        Day | None, Query(description="the later day; today (UTC) if not given")
    ] = None,
) -> Response:
    """One entry for each list and day, the latest first; the same ids from every server."""
    last = until or today()
    place = read_jurisdiction(jurisdiction_code) if jurisdiction_code else None
    first = since or date.fromordinal(max(1, last.toordinal() - _SPAN_DAYS))
    found = changes_between(library.law, first, last, place)
    # Relative addresses, so that an answer kept for one host name is right for another.
    query = f"?{request.url.query}" if request.url.query else ""
    content = changes_feed(found, place, last, own_url=f"{request.url.path}{query}", site_url="/")
    return Response(content, media_type=MEDIA_TYPE)
