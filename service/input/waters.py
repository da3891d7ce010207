"""Waters that a request names: drawn, or at a distance."""

from collections.abc import Mapping
from typing import Any

from shapely.geometry.base import BaseGeometry

from service.checks.plan.request import GivenWater
from service.checks.plan.site import GIVEN
from service.checks.plan.values import Problem
from service.errors import BadRequest
from service.geography.geodesy import area_m2, inside
from service.input.geometry import read_geometry
from service.input.plan_document import WaterPart
from service.input.salvage import salvaged
from service.values.site import Water
from service.values.vocabulary import Flow, WaterId, WaterKind

WATER_SHAPES = ("Polygon", "MultiPolygon", "LineString", "MultiLineString", "Point")
FLOW_OF_KIND: dict[WaterKind, Flow] = {
    "lake": "still",
    "pond": "still",
    "wetland": "still",
    "canal": "slow",
    "stream": "moving",
    "river": "moving",
}
"""What a kind of water does where nobody has said: common practice."""


def read_waters(
    document: Any, pointer: str, problems: list[Problem], *, whose: str = ""
) -> tuple[GivenWater, ...]:
    """The waters of a list; one that cannot be read is noted and left out.

    Args:
        whose: list it is, so that the waters of several lists have ids of their own.
    """
    if not isinstance(document, list):
        problems.append(
            Problem(
                pointer, "The waters are a list.", 'Write them as [{"name": ..., "kind": ...}].'
            )
        )
        return ()
    read = [
        _water(water, f"given:{whose}{index}", f"{pointer}/{index - 1}", problems)
        for index, water in enumerate(document, start=1)
    ]
    return tuple(water for water in read if water is not None)


def water_of_text(text: str) -> dict[str, Any]:
    """A water as one line: name, kind, distance, and ``downstream`` where its water runs there.

    >>> water_of_text("Drawn Creek, stream, 40 m, downstream")["relation"]
    'downstream'

    Raises:
        BadRequest: the line has no name, kind and distance.
    """
    parts = [part.strip() for part in text.split(",") if part.strip()]
    relation = parts.pop().casefold() if parts and parts[-1].casefold() in _RELATIONS else "near"
    if len(parts) != 3:
        raise BadRequest(
            f"{text!r} is not a water.",
            pointer="--water",
            next_step='Write name, kind, distance: "Drawn Creek, stream, 40 m, downstream".',
        )
    name, kind, distance = parts
    return {"name": name, "kind": kind, "distance": distance, "relation": relation}


_RELATIONS = ("near", "downstream")


def _water(
    document: Any, water_id: str, pointer: str, problems: list[Problem]
) -> GivenWater | None:
    if not isinstance(document, Mapping):
        problems.append(
            Problem(pointer, "A water is an object.", 'Write {"name": ..., "kind": ...}.')
        )
        return None
    part = salvaged(WaterPart, document, pointer, problems, needed=("name", "kind"))
    if part is None:
        return None
    shape = None
    if part.geometry is not None:
        try:
            shape = read_geometry(part.geometry, f"{pointer}/geometry", WATER_SHAPES)
        except BadRequest as error:
            problems.append(Problem(error.pointer, error.detail, error.next_step))
    if shape is None and part.distance_m is None:
        problems.append(
            Problem(
                pointer,
                f"Where {part.name} lies is not known, so it was not used.",
                'Draw it, or give its distance: "distance": "130 ft".',
            )
        )
        return None
    return given_water(
        water_id, part.name, part.kind, part.flow, shape, part.distance_m, part.relation
    )


def given_water(
    water_id: str,
    name: str,
    kind: WaterKind,
    flow: Flow | None,
    shape: BaseGeometry | None,
    distance_m: float | None = None,
    relation: str = "near",
) -> GivenWater:
    """A water of a request as a value."""
    longitude, latitude = inside(shape) if shape is not None else (None, None)
    size = area_m2(shape) if shape is not None and shape.geom_type.endswith("Polygon") else None
    water = Water(
        WaterId(water_id),
        name,
        kind,
        flow or FLOW_OF_KIND[kind],
        longitude,
        latitude,
        size,
        source_id=GIVEN,
    )
    return GivenWater(
        water, shape, distance_m, "downstream" if relation == "downstream" else "near"
    )
