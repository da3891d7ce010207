"""The lists loaded, and what they say of one plant."""

from typing import Annotated

from fastapi import APIRouter, Query, Response
from fastapi.routing import APIRoute

from service.api.asked import AskedRoute
from service.api.paging import LongPage
from service.api.parameters import ActText, AsOf, JurisdictionText, Label, LibraryNow
from service.checks.label import check_label
from service.errors import NotFound
from service.input.person import read_acts, read_county, read_jurisdiction, today
from service.output.models.law import (
    EntriesAnswer,
    ListAnswer,
    ListsAnswer,
    SourcesAnswer,
    StatusAnswer,
    written_status,
)
from service.output.models.shape import schema_class
from service.regulation.coverage import standing_of
from service.regulation.finding import Question
from service.regulation.law import ListVersion
from service.store.library import Library
from service.values.vocabulary import ListId

router = APIRouter(route_class=AskedRoute, tags=["law"])


@router.get(
    "/v1/findings",
    operation_id="find",
    summary="What the lists of a jurisdiction say of a plant",
    response_model=schema_class(StatusAnswer),
)
async def find(
    library: LibraryNow,
    label: Label,
    jurisdiction_code: Annotated[
        JurisdictionText,
        Query(alias="jurisdiction", description="US or an ISO 3166-2 code", examples=["US-OH"]),
    ],
    act: Annotated[
        list[ActText] | None,
        Query(description="one or more acts; sell if none is given", examples=[["sell"]]),
    ] = None,
    county_text: Annotated[
        str | None, Query(alias="county", max_length=80, description="five-digit FIPS code or name")
    ] = None,
    on: AsOf = None,
) -> Response:
    """A finding for each act: its outcome, the reasons, and every entry that it rests on."""
    place = read_jurisdiction(jurisdiction_code)
    day = on or today()
    fips = read_county(library.counties, place, county_text)
    questions = [Question(place, asked, day, fips) for asked in read_acts(act or ())]
    answer = check_label(library, label, questions)
    sent = StatusAnswer(
        store_build=library.build_id,
        as_of=day,
        name=answer.resolution,
        findings=answer.findings,
        standings=(standing_of(library.law, place, day),),
    )
    return Response(written_status(sent), media_type="application/json")


@router.get(
    "/v1/lists",
    operation_id="get_lists",
    summary="The lists loaded, in all their versions",
    response_model=schema_class(ListsAnswer),
)
def get_lists(
    library: LibraryNow,
    page: LongPage,
    jurisdiction_code: Annotated[
        JurisdictionText | None, Query(alias="jurisdiction", examples=["US-WI"])
    ] = None,
) -> ListsAnswer:
    """Every version of every list in the store, in pages."""
    place = read_jurisdiction(jurisdiction_code) if jurisdiction_code else None
    versions = [
        version
        for version in library.law.versions
        if place is None or version.jurisdiction == place
    ]
    return ListsAnswer(
        store_build=library.build_id,
        as_of=today(),
        lists=tuple(page.of(versions)),
        total=len(versions),
    )


@router.get(
    "/v1/lists/{list_id}",
    operation_id="get_list",
    summary="One list: its versions, and the classes of the latest",
    response_model=schema_class(ListAnswer),
)
def get_list(library: LibraryNow, list_id: str) -> ListAnswer:
    """The versions of a list from the first to the latest, and what its classes restrict."""
    versions = _versions(library, list_id)
    return ListAnswer(
        store_build=library.build_id,
        as_of=today(),
        versions=tuple(versions),
        classes=versions[-1].classes,
    )


@router.get(
    "/v1/lists/{list_id}/entries",
    operation_id="get_list_entries",
    summary="The entries of the version in force on a day",
    response_model=schema_class(EntriesAnswer),
)
def get_list_entries(
    library: LibraryNow, list_id: str, page: LongPage, on: AsOf = None
) -> EntriesAnswer:
    """What the version in force on the day lists, name by name, in pages."""
    day = on or today()
    in_force = next(
        (version for version in reversed(_versions(library, list_id)) if version.in_force(day)),
        None,
    )
    if in_force is None:
        raise NotFound(
            f"No version of {list_id} in force on {day.isoformat()} is loaded.",
            next_step=f"See GET /v1/lists/{list_id}.",
        )
    return EntriesAnswer(
        store_build=library.build_id,
        as_of=day,
        list_id=in_force.list_id,
        effective_from=in_force.effective_from,
        entries=tuple(page.of(in_force.entries)),
        total=len(in_force.entries),
    )


@router.get(
    "/v1/sources",
    operation_id="get_sources",
    summary="All that went into the store, with licence, citation and counts",
    tags=["store"],
    response_model=schema_class(SourcesAnswer),
)
def get_sources(library: LibraryNow) -> SourcesAnswer:
    """Files and downloads, with what was kept of each and what was set apart and why."""
    return SourcesAnswer(store_build=library.build_id, as_of=today(), sources=library.sources)


def asked_most() -> list[APIRoute]:
    """The routes that are worth a way of their own, past the framework."""
    return [
        route for route in router.routes if isinstance(route, APIRoute) and route.endpoint is find
    ]


def _versions(library: Library, list_id: str) -> list[ListVersion]:
    found = [version for version in library.law.versions if version.list_id == ListId(list_id)]
    if not found:
        raise NotFound(f"No list has the id {list_id!r}.", next_step="See GET /v1/lists.")
    return found
