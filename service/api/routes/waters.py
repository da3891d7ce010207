"""Waters near a place, where the water runs from them, and what the occurrence records say
around a place.
"""

from typing import Annotated

from fastapi import APIRouter, Query

from service.api.asked import AskedRoute
from service.api.parameters import POSITION_SCHEMA, Label, LibraryNow
from service.input.person import read_position, today
from service.output.models.shape import schema_class
from service.output.models.waters import EvidenceAnswer, PlantEvidence, WaterAnswer, WatersAnswer
from service.store.occurrences import evidence
from service.store.waters import has_flow, has_waters, read_water, read_water_geometry, waters_near
from service.store.waters_flow import reached_waters, trace_from
from service.values.vocabulary import WaterId

router = APIRouter(route_class=AskedRoute, tags=["waters"])

Near = Annotated[
    str,
    Query(
        max_length=60,
        description="longitude,latitude in WGS84 degrees",
        examples=["-84.80,41.70"],
        json_schema_extra=POSITION_SCHEMA,
    ),
]


@router.get(
    "/v1/waters",
    operation_id="find_waters",
    summary="Waters near a place, and those downstream of it",
    response_model=schema_class(WatersAnswer),
)
def find_waters(
    library: LibraryNow,
    near: Near,
    within_m: Annotated[float, Query(gt=0, le=200_000, description="radius in metres")] = 5_000,
) -> WatersAnswer:
    """Waters within the radius, nearest first, and those that the water there flows to."""
    longitude, latitude = read_position(near)
    connection = library.build.connection
    traced = trace_from(connection, longitude, latitude)
    return WatersAnswer(
        store_build=library.build_id,
        as_of=today(),
        loaded=has_waters(connection),
        network_loaded=has_flow(connection),
        near=tuple(waters_near(connection, longitude, latitude, within_m)),
        downstream=tuple(reached_waters(connection, traced, longitude, latitude)),
    )


@router.get(
    "/v1/waters/{water_id:path}",
    operation_id="get_water",
    summary="One water, and what lies downstream of it",
    response_model=schema_class(WaterAnswer),
)
def get_water(library: LibraryNow, water_id: str) -> WaterAnswer:
    """The water with its kind, area and states, and the waters below it."""
    connection = library.build.connection
    water = read_water(connection, WaterId(water_id))
    inside = read_water_geometry(connection, water.water_id).representative_point()
    traced = trace_from(connection, inside.x, inside.y)
    downstream = tuple(
        reached
        for reached in reached_waters(connection, traced, inside.x, inside.y)
        if reached.water.water_id != water.water_id
    )
    return WaterAnswer(
        store_build=library.build_id,
        as_of=today(),
        water=water,
        network_loaded=has_flow(connection),
        downstream=downstream,
    )


@router.get(
    "/v1/occurrences/evidence",
    operation_id="get_evidence",
    summary="What the loaded records say of a plant around a place",
    response_model=schema_class(EvidenceAnswer),
)
def get_evidence(library: LibraryNow, label: Label, near: Near) -> EvidenceAnswer:
    """Records in rings around the place, for each plant that the label may mean; none where no
    plant is known by it.
    """
    longitude, latitude = read_position(near)
    resolution = library.resolver.resolve(label)
    found = tuple(
        PlantEvidence(
            candidate.accepted_name,
            evidence(library.build.connection, candidate.plant_id, longitude, latitude),
        )
        for candidate in resolution.candidates[:20]
    )
    return EvidenceAnswer(
        store_build=library.build_id,
        as_of=today(),
        label=label,
        confirmed=resolution.confirmed,
        evidence=found,
    )
