"""Reading a community document.

What cannot be read is set apart with a pointer; what is left is answered.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any

from pydantic import ValidationError

from service.checks.community.values import Community, CommunitySite, UnansweredSite
from service.checks.plan.request import GivenWater, PlannedPlace
from service.checks.plan.values import Problem
from service.errors import BadRequest, TooLarge
from service.input.community_document import (
    PLACE_FACTS,
    SITE_FACTS,
    CommunityHead,
    SiteProperties,
    WaterProperties,
)
from service.input.geometry import checked_geometry, read_geometry
from service.input.plan import read_planting, read_site
from service.input.salvage import near_miss, problems_of, salvaged
from service.input.waters import WATER_SHAPES, given_water, read_waters
from service.values.site import Place, PlaceKind
from service.values.vocabulary import WaterId

MAX_SITES = 5_000
MAX_PLANTINGS = 50_000

_WITHOUT = "The site has no plantings."
_EITHER: tuple[PlaceKind, ...] = ("pond", "stream")


def read_community(document: Mapping[str, Any]) -> Community:
    """The sites and shared waters of a feature collection.

    Raises:
        BadRequest: no feature collection, no site in it that can be read, or a day or acts that
            cannot be read.
        TooLarge: more sites or plantings than the limit.
    """
    features = document.get("features")
    if document.get("type") != "FeatureCollection" or not isinstance(features, list):
        raise BadRequest(
            "The document is not a GeoJSON feature collection.",
            pointer="/type",
            next_step='Give it "type": "FeatureCollection".',
        )
    head = _head(document)
    problems: list[Problem] = []
    unread: dict[str, int] = {}
    sites: list[CommunitySite] = []
    unanswered: list[UnansweredSite] = []
    given_of_waters: dict[WaterId, Mapping[str, Any]] = {}
    waters = list(read_waters(document.get("waters", []), "/waters", problems))
    for index, feature in enumerate(features):
        pointer = f"/features/{index}"
        properties = feature.get("properties") if isinstance(feature, Mapping) else None
        if not isinstance(properties, Mapping):
            problems.append(Problem(pointer, "This is not a feature with properties."))
        elif properties.get("layer") == "water":
            water = _water(feature, properties, len(waters) + 1, pointer, problems, unread)
            if water is not None:
                waters.append(water)
                given_of_waters[water.water.water_id] = _with_id(feature, properties)
        else:
            site = _site(feature, properties, index + 1, pointer, problems, unread)
            if isinstance(site, CommunitySite):
                sites.append(site)
            else:
                unanswered.append(site)
    if not sites:
        first = problems[0] if problems else Problem("/features", "No feature is a site.")
        raise BadRequest(
            f"No site can be read. The first fault: {first.detail}",
            pointer=first.pointer,
            next_step=first.next_step,
        )
    problems += list(_near_misses(unread))
    community = Community(
        tuple(sites),
        tuple(waters),
        head.title,
        head.on,
        tuple(dict.fromkeys(head.acts)) if head.acts else None,
        tuple(problems),
        given_of_waters,
        tuple(unanswered),
    )
    for what, found, limit in (
        ("sites", len(sites), MAX_SITES),
        ("plantings", community.size, MAX_PLANTINGS),
    ):
        if found > limit:
            raise TooLarge(f"The screening has {found:,} {what}, which", limit, pointer="/features")
    return community


def _head(document: Mapping[str, Any]) -> CommunityHead:
    # Waters are read one by one, so that a fault in one costs that one.
    known = {
        field.alias or name
        for name, field in CommunityHead.model_fields.items()
        if name != "waters"
    }
    try:
        return CommunityHead.model_validate(
            {key: value for key, value in document.items() if key in known}
        )
    except ValidationError as error:
        first = problems_of(error, "")[0]
        raise BadRequest(first.detail, pointer=first.pointer, next_step=first.next_step) from error


def _site(
    feature: Mapping[str, Any],
    properties: Mapping[str, Any],
    number: int,
    pointer: str,
    problems: list[Problem],
    unread: dict[str, int],
) -> CommunitySite | UnansweredSite:
    at = f"{pointer}/properties"
    given = _known(SiteProperties.model_fields, properties, unread)
    plantings = given.pop("plantings", None)
    # Read one by one, so that a fault in one water costs that one.
    own = read_waters(given.pop("waters", []), f"{at}/waters", problems, whose=f"{number}.")
    part = _facts(given, at, problems)
    name = str(part.get("name") or f"site {number}")
    geometry, doubts = checked_geometry(feature.get("geometry"), name, f"{pointer}/geometry")
    problems += doubts
    of_site = {**{key: part.get(key) for key in SITE_FACTS}, "geometry": geometry}
    site = read_site(of_site, at, problems, geometry_at=f"{pointer}/geometry")
    came, feature_id = dict(properties), _id_of(feature)
    bare = UnansweredSite(number, pointer, name, site.shape, _WITHOUT, came, feature_id)
    if isinstance(plantings, str):
        plantings = [label.strip() for label in plantings.split(";") if label.strip()]
    if not isinstance(plantings, list) or not plantings:
        problems.append(
            Problem(
                f"{at}/plantings",
                _WITHOUT,
                'List them, or write "label; label".',
            )
        )
        return bare
    place = {key: value for key, value in part.items() if key in PLACE_FACTS}
    kinds: tuple[PlaceKind, ...] = (part["place_kind"],) if part.get("place_kind") else _EITHER
    places = tuple(PlannedPlace(Place(name=name, kind=kind, **place), at) for kind in kinds)
    by_name = {name: places[0]}
    read = [
        read_planting(planting, index, f"{at}/plantings/{index - 1}", by_name, problems)
        for index, planting in enumerate(plantings, start=1)
    ]
    found = tuple(planting for planting in read if planting is not None)
    if not found:
        return replace(bare, why="None of its plantings can be read.")
    return CommunitySite(
        number,
        pointer,
        name,
        site,
        places,
        found,
        part.get("drains_to"),
        part.get("drains_along_m"),
        came,
        feature_id,
        own,
    )


def _id_of(feature: Mapping[str, Any]) -> str | int | None:
    """A feature's id, which is a text or a number (RFC 7946, 3.2)."""
    found = feature.get("id")
    return found if isinstance(found, str | int) and not isinstance(found, bool) else None


def _with_id(feature: Mapping[str, Any], properties: Mapping[str, Any]) -> Mapping[str, Any]:
    found = _id_of(feature)
    return dict(properties) if found is None else {"id": found, **properties}


def _near_misses(unread: Mapping[str, int]) -> Iterator[Problem]:
    """Properties that look like a fact spelled another way; all others are the user's own and come
    back as they are.
    """
    for name, count in sorted(unread.items()):
        near = near_miss(name, [*SiteProperties.model_fields, *WaterProperties.model_fields])
        if near:
            yield Problem(
                f"property {name!r}",
                f"This property, of {count} features, is not a fact of a site or water and was "
                "not read.",
                f"Did you mean {near!r}?",
            )


def _facts(given: dict[str, Any], pointer: str, problems: list[Problem]) -> dict[str, Any]:
    """The facts of a site without those that cannot be read, which are noted and count as
    unknown.
    """
    part = salvaged(SiteProperties, {**given, "plantings": ["-"]}, pointer, problems)
    return part.model_dump(exclude={"plantings", "waters"}) if part is not None else {}


def _water(
    feature: Mapping[str, Any],
    properties: Mapping[str, Any],
    number: int,
    pointer: str,
    problems: list[Problem],
    unread: dict[str, int],
) -> GivenWater | None:
    try:
        part = WaterProperties.model_validate(
            _known(WaterProperties.model_fields, properties, unread)
        )
        shape = read_geometry(feature.get("geometry"), f"{pointer}/geometry", WATER_SHAPES)
    except ValidationError as error:
        problems.extend(problems_of(error, f"{pointer}/properties"))
        return None
    except BadRequest as error:
        problems.append(Problem(error.pointer, error.detail, error.next_step))
        return None
    return given_water(f"shared:{number}", part.name, part.kind, part.flow, shape)


def _known(
    known: Mapping[str, Any], properties: Mapping[str, Any], unread: dict[str, int]
) -> dict[str, Any]:
    """The properties that mean something here; a GIS writes nulls for what is not there."""
    for name in properties:
        if name not in known:
            unread[str(name)] = unread.get(str(name), 0) + 1
    return {
        name: value
        for name, value in properties.items()
        if name in known and value is not None and value != ""
    }
