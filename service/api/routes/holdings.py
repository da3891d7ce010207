"""How much of the law is loaded, and how it changed."""

from typing import Annotated

from fastapi import APIRouter, Query, Response

from service.api.asked import AskedRoute
from service.api.parameters import AsOf, Day, JurisdictionText, LibraryNow
from service.input.person import read_jurisdiction, today
from service.output.models.holdings import ChangesAnswer, CoverageAnswer
from service.output.models.shape import schema_class
from service.regulation.changes import (
    changes_between,
)
from service.regulation.coverage import coverage_table

router = APIRouter(route_class=AskedRoute, tags=["law"])


@router.get(
    "/v1/changes",
    operation_id="get_changes",
    summary="How the law loaded here changed between two days",
    response_model=schema_class(ChangesAnswer),
)
def get_changes(
    library: LibraryNow,
    since: Annotated[Day, Query(description="the earlier day", examples=["2024-01-01"])],
    until: Annotated[
        Day | None, Query(description="the later day; today (UTC) if not given")
    ] = None,
    jurisdiction_code: Annotated[
        JurisdictionText | None, Query(alias="jurisdiction", examples=["US-MN"])
    ] = None,
) -> ChangesAnswer:
    """Entry by entry: added, removed, in another class, in force from another day."""
    last = until or today()
    place = read_jurisdiction(jurisdiction_code) if jurisdiction_code else None
    found = changes_between(library.law, since, last, place)
    return ChangesAnswer(
        store_build=library.build_id,
        as_of=last,
        since=since,
        until=last,
        changes=found,
    )


@router.get(
    "/v1/coverage",
    operation_id="get_coverage",
    summary="How much of the law is loaded, jurisdiction by jurisdiction",
    tags=["store"],
    response_model=schema_class(CoverageAnswer),
)
def get_coverage(library: LibraryNow, on: AsOf = None) -> CoverageAnswer:
    """The lists of each jurisdiction, how completely each is loaded, how much of it was read."""
    day = on or today()
    table = tuple(coverage_table(library.law, day))
    return CoverageAnswer(store_build=library.build_id, as_of=day, jurisdictions=table)


@router.get(
    "/v1/coverage/map",
    operation_id="get_coverage_map",
    summary="The same as a tile map",
    tags=["store"],
    response_class=Response,
    responses={200: {"content": {"image/svg+xml": {"schema": {"type": "string"}}}}},
)
def get_coverage_map(library: LibraryNow, on: AsOf = None) -> Response:
    """Each jurisdiction as a tile, darker the more of its law is loaded."""
    from service.output.maps.coverage import coverage_svg  # brings the geometry libraries

    return Response(
        coverage_svg(coverage_table(library.law, on or today())), media_type="image/svg+xml"
    )
