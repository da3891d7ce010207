"""Reading a plan document. What cannot be read is set apart with a pointer; what is left is
answered.

A fact of the site or of a place that cannot be read counts as unknown, which widens the answer. A
planting that cannot be read in full is set apart whole, since leaving out one of its facts could
make its answer milder.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from difflib import get_close_matches
from typing import Any, TypeVar, cast

from pydantic import ValidationError
from shapely.geometry.base import BaseGeometry

from service.checks.plan.request import Plan, PlannedPlace, Planting
from service.checks.plan.values import PlanSite, Problem
from service.containment import ContainmentRequest
from service.containment.values import CoverPart
from service.errors import BadRequest, TooLarge, UnknownValue
from service.escape import PlannedMeasure
from service.input.geometry import read_geometry
from service.input.place import read_state
from service.input.plan_document import (
    DocumentPart,
    PlaceDesign,
    PlacePart,
    PlanDocument,
    PlanHead,
    PlantingDesign,
    PlantingPart,
    SitePart,
)
from service.values.site import Place, Position
from service.values.vocabulary import Act, Jurisdiction

MAX_PLANTINGS = 500
MAX_PLACES = 200
MOST_PROBLEMS = 500

_SHAPES = ("Point", "Polygon", "MultiPolygon", "LineString", "MultiLineString")
_PLANTING_SHAPES = ("Point",)

_Part = TypeVar("_Part", bound=DocumentPart)


def parse_json(content: bytes) -> dict[str, Any]:
    """The JSON object of a document.

    Raises:
        BadRequest: no JSON, or no object; names line and column.
    """
    try:
        document = json.loads(content.decode("utf-8-sig"), parse_constant=_no_constant)
    except UnicodeDecodeError as error:
        raise BadRequest("The document is no UTF-8 text.", next_step="Save it as UTF-8.") from error
    except json.JSONDecodeError as error:
        raise BadRequest(
            f"The document is no JSON: {error.msg} in line {error.lineno}, column {error.colno}.",
            next_step="Look for a missing comma, quote or bracket just before it.",
        ) from error
    except RecursionError as error:
        raise BadRequest("The document is nested too deep.") from error
    if not isinstance(document, dict):
        raise BadRequest(
            "The document is no JSON object.", next_step="Begin with { and end with }."
        )
    _refuse_half_characters(document)
    return document


def _refuse_half_characters(document: dict[str, Any]) -> None:
    """JSON can write half of a surrogate pair, which no text can hold."""
    try:
        json.dumps(document, ensure_ascii=False).encode()
    except UnicodeEncodeError as error:
        half = error.object[error.start].encode("unicode-escape").decode()
        raise BadRequest(
            f"The document holds {half}, half of a character.",
            next_step="Write the character out in UTF-8.",
        ) from error


def read_plan(document: Mapping[str, Any]) -> Plan:
    """A plan from its document.

    Raises:
        BadRequest: nothing in it can be answered, or the day or the acts cannot be read.
        TooLarge: more plantings or places than the limit.
    """
    problems: list[Problem] = unknown_keys(document, PlanDocument, "")
    head = _head(document)
    site = read_site(document.get("site"), "/site", problems)
    places = _places(document.get("places", []), problems)
    plantings = _plantings(document.get("plantings"), places, problems)
    return Plan(
        site=site,
        plantings=plantings,
        places=tuple(places.values()),
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
    part = _salvaged(SitePart, document, pointer, problems) or SitePart()
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
    part = _salvaged(PlacePart, document, pointer, problems, needed=("name", "kind"))
    if part is None:
        return None
    facts = part.model_dump(exclude={"geometry", "design"})
    return PlannedPlace(
        Place(**facts),
        pointer,
        _shape(part.geometry, f"{pointer}/geometry", _SHAPES, problems),
        _place_design(part.design),
    )


def read_planting(
    document: Any,
    number: int,
    pointer: str,
    places: Mapping[str, PlannedPlace],
    problems: list[Problem],
) -> Planting | None:
    """A planting; None where any part of it cannot be read."""
    if isinstance(document, str):
        document = {"label": document}
    if not isinstance(document, Mapping):
        problems.append(
            Problem(pointer, "A planting is an object.", 'Write it as {"label": "..."}.')
        )
        return None
    try:
        part = PlantingPart.model_validate(document)
    except ValidationError as error:
        problems.extend(problems_of(error, pointer))
        return None
    found: list[Problem] = []
    shape = _shape(part.geometry, f"{pointer}/geometry", _PLANTING_SHAPES, found)
    origin = _state(part.brought_from, f"{pointer}/brought_from", found)
    problems.extend(found)
    if found:
        return None
    place, note = _place_of(part, pointer, places, problems)
    planned = tuple(
        PlannedMeasure(each)
        if isinstance(each, str)
        else PlannedMeasure(each.measure, each.opening_mm)
        for each in part.containment
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
    )


def problems_of(error: ValidationError, pointer: str) -> list[Problem]:
    """What a model found wrong, each with its pointer."""
    found: dict[str, Problem] = {}
    for each in error.errors(include_url=False, include_input=False):
        steps = [str(step).replace("~", "~0").replace("/", "~1") for step in each["loc"]]
        # The branches of a union are no place in the document.
        steps = [
            step
            for step in steps
            if step != "PlannedMeasurePart" and not step.startswith("literal[")
        ]
        told = str(each["msg"]).removeprefix("Value error, ")
        at = "/".join([pointer, *steps])
        found.setdefault(
            at,
            Problem(
                at, "This key is not known." if each["type"] == "extra_forbidden" else f"{told}."
            ),
        )
    return list(found.values())


def unknown_keys(
    document: Mapping[str, Any], model: type[DocumentPart], pointer: str
) -> list[Problem]:
    """Keys that the model does not have, with the nearest that it has."""
    known = [field.alias or name for name, field in model.model_fields.items()]
    return [
        Problem(
            f"{pointer}/{str(key).replace('~', '~0').replace('/', '~1')}",
            "This key is not known, so what stands under it was not read.",
            f"Did you mean {near[0]!r}?"
            if (near := get_close_matches(str(key), known, n=1))
            else f"Known: {', '.join(known)}.",
        )
        for key in document
        if key not in known
    ]


def _head(document: Mapping[str, Any]) -> PlanHead:
    keys = [field.alias or name for name, field in PlanHead.model_fields.items()]
    try:
        return PlanHead.model_validate({key: document[key] for key in keys if key in document})
    except ValidationError as error:
        first, *more = problems_of(error, "")
        others = f" So are {', '.join(each.pointer for each in more)}." if more else ""
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
    for index, each in enumerate(document):
        place = read_place(each, f"/places/{index}", problems)
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
        read_planting(each, number, f"/plantings/{number - 1}", places, problems)
        for number, each in enumerate(document, start=1)
    ]
    plantings = tuple(each for each in read if each is not None)
    if not plantings:
        first = problems[before]
        raise BadRequest(
            f"No planting can be read. The first fault: {first.detail}",
            pointer=first.pointer,
            next_step=first.next_step,
        )
    return plantings


def _salvaged(
    model: type[_Part],
    document: Mapping[str, Any],
    pointer: str,
    problems: list[Problem],
    needed: Sequence[str] = (),
) -> _Part | None:
    """The part with its faulty facts left out, each noted; None where a needed one is at fault."""
    given = dict(document)
    faults = unknown_keys(given, model, pointer)
    given = {key: value for key, value in given.items() if key in model.model_fields}
    for _ in range(len(given) + 1):
        try:
            part = model.model_validate(given)
        except ValidationError as error:
            faults += problems_of(error, pointer)
            bad = {str(each["loc"][0]) for each in error.errors()}
            if bad & set(needed):
                problems.extend(faults)
                return None
            for key in bad:
                given[key] = _without(
                    given.get(key),
                    [each["loc"][1:] for each in error.errors() if str(each["loc"][0]) == key],
                )
            given = {key: value for key, value in given.items() if value is not None}
        else:
            problems.extend(faults)
            return part
    raise AssertionError("each turn leaves out what was at fault")


def _without(value: Any, faults: Sequence[tuple[int | str, ...]]) -> Any:
    """A nested part without its faulty facts, or None for a fact that is itself at fault."""
    names = {fault[0] for fault in faults if fault}
    if isinstance(value, Mapping) and names and all(fault for fault in faults):
        return {key: each for key, each in value.items() if key not in names}
    return None


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
        near = get_close_matches(part.place, places, n=1)
        problems.append(
            Problem(
                f"{pointer}/place",
                f"No place of the plan that could be read is named {part.place!r}; the planting is answered without a place.",
                f"Did you mean {near[0]!r}?" if near else "Add it to the places.",
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
            CoverPart(each.area_m2, each.curve_number) for each in design.cover_parts
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
            each.opening_mm
            for each in part.containment
            if not isinstance(each, str) and each.measure == "outlet-screen"
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


def _no_constant(name: str) -> float:
    raise BadRequest(f"{name} is no number of JSON.", next_step="Leave out what is not known.")
