"""Reading a plan document. What cannot be read is set apart with a pointer; what is left is
answered.

A fact that cannot be read counts as unknown, which widens the answer: a mistake costs a field, not
a planting. What is wrong with a planting is noted with it and with the plan.
"""

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from typing import Any, cast

from pydantic import ValidationError
from shapely.geometry.base import BaseGeometry

from service.checks.plan.request import Plan, PlannedPlace, Planting
from service.checks.plan.values import PlanSite, Problem
from service.containment import ContainmentRequest
from service.containment.values import CoverPart
from service.errors import BadRequest, TooLarge, UnknownValue
from service.escape import PlannedMeasure
from service.input.geometry import read_geometry
from service.input.person import read_state
from service.input.plan_document import (
    PLACE_GEOMETRIES,
    PlaceDesign,
    PlacePart,
    PlanDocument,
    PlanHead,
    PlantingDesign,
    PlantingPart,
    SitePart,
)
from service.input.salvage import near_miss, problems_of, salvaged, unknown_keys
from service.input.waters import read_waters
from service.values.site import Place, Position
from service.values.vocabulary import Act, Jurisdiction

MAX_PLANTINGS = 500
MAX_PLACES = 200

_SHAPES = ("Point", "Polygon", "MultiPolygon", "LineString", "MultiLineString")
_POINT = ("Point",)


def read_plan(document: Mapping[str, Any]) -> Plan:
    """A plan from its document.

    Raises:
        BadRequest: nothing in it can be answered, or the day or the acts cannot be read.
        TooLarge: more plantings or places than the limit.
    """
    problems: list[Problem] = unknown_keys(document, PlanDocument, "")
    head = _head(document)
    site = read_site(document.get("site"), "/site", problems)
    waters = read_waters(document.get("waters", []), "/waters", problems)
    places = _places(document.get("places", []), problems)
    plantings = _plantings(document.get("plantings"), places, problems)
    return Plan(
        site=site,
        plantings=plantings,
        places=tuple(places.values()),
        waters=waters,
        title=head.title,
        prepared_for=head.prepared_for,
        prepared_by=head.prepared_by,
        note=head.note,
        on=head.on,
        acts=tuple(dict.fromkeys(head.acts)) if head.acts else None,
        problems=tuple(problems),
    )


def read_site(
    document: Any, pointer: str, problems: list[Problem], *, geometry_at: str = ""
) -> PlanSite:
    """The site; facts that cannot be read are noted and left out.

    Args:
        geometry_at: pointer to its geometry, where that stands apart.
    """
    if not isinstance(document, Mapping):
        raise BadRequest(
            "The plan has no site.",
            pointer=pointer,
            next_step='Give "site" a geometry, or a state with its county, or a ZIP code.',
        )
    part = salvaged(SitePart, document, pointer, problems) or SitePart()
    shape = _shape(part.geometry, geometry_at or f"{pointer}/geometry", _SHAPES, problems)
    state = _state(part.state, f"{pointer}/state", problems)
    return PlanSite(
        shape,
        state,
        part.county or None,
        part.zip or None,
        part.hardiness_zone or None,
        part.first_frost or None,
    )


def read_place(document: Any, pointer: str, problems: list[Problem]) -> PlannedPlace | None:
    """A place; None where its name or kind cannot be read."""
    if not isinstance(document, Mapping):
        problems.append(
            Problem(pointer, "A place is an object.", 'Write it as {"name": ..., "kind": "pond"}.')
        )
        return None
    part = salvaged(PlacePart, document, pointer, problems, needed=("name", "kind"))
    if part is None:
        return None
    facts = part.model_dump(exclude={*PLACE_GEOMETRIES, "design"})
    ways_out = {}
    for fact in ("outlet", "overflow"):
        at = f"{pointer}/{fact}_at"
        ways_out[fact] = _shape(getattr(part, f"{fact}_at"), at, _POINT, problems)
        if ways_out[fact] is not None:
            facts[fact] = _marked(facts[fact], part.name, fact, at, problems)
    return PlannedPlace(
        Place(**facts),
        pointer,
        _shape(part.geometry, f"{pointer}/geometry", _SHAPES, problems),
        _place_design(part.design),
        ways_out["outlet"],
        ways_out["overflow"],
    )


def _marked(
    stated: bool | None, name: str, fact: str, pointer: str, problems: list[Problem]
) -> bool | None:
    """Whether a place has the way out that is marked on it; unknown where the plan denies it."""
    if stated is False:
        detail = f"{name} is said to have no {fact}, and one is marked; it counts as not known."
        problems.append(Problem(pointer, detail, f"Say {fact}: true, or take the point out."))
        return None
    return True


def read_planting(
    document: Any,
    number: int,
    pointer: str,
    places: Mapping[str, PlannedPlace],
    problems: list[Problem],
) -> Planting | None:
    """A planting; None where it has no label."""
    if isinstance(document, str):
        document = {"label": document}
    if not isinstance(document, Mapping):
        problems.append(
            Problem(pointer, "A planting is an object.", 'Write it as {"label": "..."}.')
        )
        return None
    found: list[Problem] = []
    part = salvaged(PlantingPart, document, pointer, found, needed=("label",))
    if part is None:
        problems.extend(found)
        return None
    shape = _shape(part.geometry, f"{pointer}/geometry", _POINT, found)
    origin = _state(part.brought_from, f"{pointer}/brought_from", found)
    place, note = _place_of(part, pointer, places, found)
    problems.extend(found)
    planned = tuple(
        PlannedMeasure(measure)
        if isinstance(measure, str)
        else PlannedMeasure(measure.measure, measure.opening_mm)
        for measure in part.containment
    )
    return Planting(
        number=number,
        pointer=pointer,
        label=part.label,
        count=part.count,
        place=place.place.name if place else None,
        position=Position(
            part.crown_depth_cm,
            part.holding,
            part.container_volume_l,
            part.soil,
            part.light,
            part.flow,
        ),
        shape=shape,
        acts=cast("tuple[Act, ...]", tuple(dict.fromkeys(part.acts))) if part.acts else None,
        brought_from=origin,
        planned=planned,
        design=_planting_design(part, place.design if place else ContainmentRequest()),
        place_note=note,
        problems=tuple(found),
    )


def _head(document: Mapping[str, Any]) -> PlanHead:
    keys = [field.alias or name for name, field in PlanHead.model_fields.items()]
    try:
        return PlanHead.model_validate({key: document[key] for key in keys if key in document})
    except ValidationError as error:
        first, *more = problems_of(error, "")
        others = f" So are {', '.join(problem.pointer for problem in more)}." if more else ""
        raise BadRequest(
            f"{first.detail}{others}", pointer=first.pointer, next_step=first.next_step
        ) from error


def _places(document: Any, problems: list[Problem]) -> dict[str, PlannedPlace]:
    if not isinstance(document, list):
        problems.append(
            Problem(
                "/places",
                "The places are a list.",
                'Write them as [{"name": ..., "kind": "pond"}].',
            )
        )
        return {}
    if len(document) > MAX_PLACES:
        raise TooLarge(
            f"The plan has {len(document):,} places, which", MAX_PLACES, pointer="/places"
        )
    places: dict[str, PlannedPlace] = {}
    for index, described in enumerate(document):
        place = read_place(described, f"/places/{index}", problems)
        if place is None:
            continue
        if place.place.name in places:
            problems.append(
                Problem(
                    f"/places/{index}/name",
                    f"Two places are named {place.place.name!r}.",
                    "Give each its own name.",
                )
            )
        else:
            places[place.place.name] = place
    return places


def _plantings(
    document: Any, places: Mapping[str, PlannedPlace], problems: list[Problem]
) -> tuple[Planting, ...]:
    if not isinstance(document, list) or not document:
        raise BadRequest(
            "The plan has no plantings.",
            pointer="/plantings",
            next_step='Write them as [{"label": "..."}].',
        )
    if len(document) > MAX_PLANTINGS:
        raise TooLarge(
            f"The plan has {len(document):,} plantings, which", MAX_PLANTINGS, pointer="/plantings"
        )
    before = len(problems)
    read = [
        read_planting(row, number, f"/plantings/{number - 1}", places, problems)
        for number, row in enumerate(document, start=1)
    ]
    plantings = tuple(row for row in read if row is not None)
    if not plantings:
        first = problems[before]
        raise BadRequest(
            f"No planting can be read. The first fault: {first.detail}",
            pointer=first.pointer,
            next_step=first.next_step,
        )
    return plantings


def _shape(
    geometry: Any, pointer: str, kinds: Sequence[str], problems: list[Problem]
) -> BaseGeometry | None:
    if geometry is None:
        return None
    try:
        return read_geometry(geometry, pointer, kinds)
    except BadRequest as error:
        problems.append(Problem(error.pointer, error.detail, error.next_step))
        return None


def _state(text: str | None, pointer: str, problems: list[Problem]) -> Jurisdiction | None:
    if not text:
        return None
    try:
        return read_state(text, pointer)
    except UnknownValue as error:
        problems.append(
            Problem(error.pointer, error.detail, "Use an ISO 3166-2 code such as US-OH.")
        )
        return None


def _place_of(
    part: PlantingPart, pointer: str, places: Mapping[str, PlannedPlace], problems: list[Problem]
) -> tuple[PlannedPlace | None, str]:
    """The place of a planting, or why there is none."""
    if part.place:
        if part.place in places:
            return places[part.place], ""
        near = near_miss(part.place, places)
        problems.append(
            Problem(
                f"{pointer}/place",
                f"No place of the plan that could be read is named {part.place!r}; the planting is "
                "answered without a place.",
                f"Did you mean {near!r}?" if near else "Add it to the places.",
            )
        )
        return None, f"Its place {part.place!r} is not among the places that could be read."
    if len(places) == 1:
        return next(iter(places.values())), ""
    return (
        None,
        "The plan has several places and does not say in which it stands."
        if places
        else "The plan states no pond, stream or bog.",
    )


def _place_design(design: PlaceDesign) -> ContainmentRequest:
    facts = design.model_dump(exclude={"cover_parts"})
    return ContainmentRequest(
        **facts,
        cover_parts=tuple(
            CoverPart(part.area_m2, part.curve_number) for part in design.cover_parts
        ),
    )


def _planting_design(part: PlantingPart, of_place: ContainmentRequest) -> ContainmentRequest:
    facts = {
        name: getattr(part.design, name)
        for name in PlantingDesign.model_fields
        if getattr(part.design, name) is not None
    }
    opening = next(
        (
            measure.opening_mm
            for measure in part.containment
            if not isinstance(measure, str) and measure.measure == "outlet-screen"
        ),
        None,
    )
    if opening is not None and of_place.screen_opening_mm is None:
        facts["screen_opening_mm"] = opening
    known = {field.name for field in fields(ContainmentRequest)}
    return replace(
        of_place,
        count=part.count,
        **{name: value for name, value in facts.items() if name in known},
    )
