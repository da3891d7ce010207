"""How much of the law is loaded, and how it changed."""

from datetime import date
from typing import Annotated

from fastapi import APIRouter, Query, Response

from service.api.asked import AskedRoute
from service.api.parameters import AsOf, Day, JurisdictionText, LibraryNow
from service.input.day import today
from service.input.place import read_jurisdiction
from service.output.models.law import Answer, _Model
from service.regulation.changes import (
    ClassChange,
    DatedTerm,
    EntryChange,
    ListChanges,
    changes_between,
)
from service.regulation.coverage import coverage_table
from service.values.vocabulary import Coverage, HowKnown

router = APIRouter(route_class=AskedRoute, tags=["law"])


class EntryChangeModel(_Model):
    """What became of one entry, or a day of its own that fell in the span."""

    name_as_listed: str
    accepted_name: str
    plant_id: str
    kinds: tuple[str, ...]
    class_before: str | None = None
    class_after: str | None = None
    words: str = ""


class ListChangesModel(_Model):
    """What became of one list on one day."""

    list_id: str
    jurisdiction: str
    title: str
    event: str
    on: date | None
    version_before: date | None
    version_after: date | None
    header: dict[str, tuple[str | None, str | None]]
    classes: dict[str, tuple[str, ...]]
    entries: tuple[EntryChangeModel, ...]
    note: str


class ChangesAnswer(Answer):
    """How the law loaded here changed between two days."""

    since: date
    until: date
    changes: tuple[ListChangesModel, ...]


class ListHoldingModel(_Model):
    """A list in force."""

    list_id: str
    title: str
    citation: str
    completeness: str
    how_known: HowKnown
    entries: int
    entries_read: int
    read_copy_date: str


class JurisdictionCoverageModel(_Model):
    """What is loaded of one jurisdiction."""

    jurisdiction: str
    name: str
    coverage: Coverage
    entries: int
    entries_read: int
    share_read: float | None
    oldest_reading: str
    undated_copies: int
    lists: tuple[ListHoldingModel, ...]
    ordinances: tuple[ListHoldingModel, ...]


class CoverageAnswer(Answer):
    """How much of the law is loaded, jurisdiction by jurisdiction."""

    jurisdictions: tuple[JurisdictionCoverageModel, ...]


@router.get(
    "/v1/changes",
    operation_id="get_changes",
    summary="How the law loaded here changed between two days",
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
        changes=tuple(map(_changes, found)),
    )


@router.get(
    "/v1/coverage",
    operation_id="get_coverage",
    summary="How much of the law is loaded, jurisdiction by jurisdiction",
    tags=["store"],
)
def get_coverage(library: LibraryNow, on: AsOf = None) -> CoverageAnswer:
    """The lists of each jurisdiction, how completely each is loaded, how much of it was read."""
    day = on or today()
    table = tuple(
        JurisdictionCoverageModel.model_validate(coverage)
        for coverage in coverage_table(library.law, day)
    )
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


def _changes(found: ListChanges) -> ListChangesModel:
    return ListChangesModel(
        list_id=found.list_id,
        jurisdiction=found.jurisdiction,
        title=found.title,
        event=found.event,
        on=found.on,
        version_before=found.version_before,
        version_after=found.version_after,
        header={
            change.field: (_text(change.before), _text(change.after)) for change in found.header
        },
        classes={_class_name(change): change.kinds for change in found.classes},
        entries=(*map(_entry_change, found.entries), *map(_dated_term, found.dated)),
        note=found.note,
    )


def _text(value: str | date | None) -> str | None:
    return value.isoformat() if isinstance(value, date) else value


def _class_name(change: ClassChange) -> str:
    named = change.after or change.before
    return named.name if named else ""


def _entry_change(change: EntryChange) -> EntryChangeModel:
    return EntryChangeModel(
        name_as_listed=change.entry.name_as_listed,
        accepted_name=change.entry.accepted_name,
        plant_id=change.entry.plant_id,
        kinds=change.kinds,
        class_before=change.before.class_name if change.before else None,
        class_after=change.after.class_name if change.after else None,
    )


def _dated_term(dated: DatedTerm) -> EntryChangeModel:
    return EntryChangeModel(
        name_as_listed=dated.entry.name_as_listed,
        accepted_name=dated.entry.accepted_name,
        plant_id=dated.entry.plant_id,
        kinds=(dated.effect,),
        class_after=dated.entry.class_name,
        words=dated.term.words,
    )
