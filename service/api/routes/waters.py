"""Waters near a place, where the water runs from them, and what the occurrence records say
around a place.
"""

from typing import Annotated, Literal

from fastapi import APIRouter, Query
from pydantic import Field

from service.api.asked import AskedRoute
from service.api.parameters import POSITION_SCHEMA, Label, LibraryNow
from service.input.day import today
from service.input.place import read_position
from service.output.models.law import Answer, _Model
from service.store.occurrences import evidence
from service.store.waters import has_flow, has_waters, read_water, read_water_geometry, waters_near
from service.store.waters_flow import reached_waters, trace_from
from service.values.vocabulary import Flow, WaterId, WaterKind

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


class WaterModel(_Model):
    """A water body."""

    water_id: str
    name: str
    kind: WaterKind
    flow: Flow
    longitude: float
    latitude: float
    area_m2: float | None
    states: tuple[str, ...]
    source_id: str


class ReachedModel(_Model):
    """A water in relation to a place. Distances in metres; ``along_m`` follows the flow network."""

    water: WaterModel
    relation: Literal["contains", "downstream", "upstream", "near"]
    overland_m: float
    along_m: float | None
    lakes_passed: int


class WatersAnswer(Answer):
    """Waters near a place, nearest first, and those downstream of it."""

    loaded: Annotated[
        bool,
        Field(description="false where the store holds no waters, so that none found says nothing"),
    ]
    network_loaded: Annotated[
        bool,
        Field(description="false where no flow network is loaded: straight-line distances only"),
    ]
    near: tuple[ReachedModel, ...]
    downstream: tuple[ReachedModel, ...]


class WaterAnswer(Answer, WaterModel):
    """A water with what lies downstream of it."""

    network_loaded: bool
    downstream: tuple[ReachedModel, ...]


class DatasetModel(_Model):
    """A data set to cite."""

    dataset_key: str
    title: str
    licence: str
    citation: str
    records: int


class RingModel(_Model):
    """Records within a radius, the smaller rings included; one plant in one square kilometre in
    one year counted once.
    """

    radius_m: float
    plant_records: int
    all_records: Annotated[
        int, Field(description="every aquatic-plant record there: how much the place is visited")
    ]
    latest_year: Annotated[
        int | None, Field(description="of the plant's records there; null where none states a year")
    ]


class EvidenceModel(_Model):
    """Occurrence evidence for one plant."""

    plant_id: str
    accepted_name: str
    loaded: bool
    nearest_m: float | None
    rings: tuple[RingModel, ...]
    first_year: int | None
    latest_year: int | None
    datasets: tuple[DatasetModel, ...]


class EvidenceAnswer(Answer):
    """Occurrence evidence around a place, one for each plant that the label may mean."""

    label: str
    confirmed: bool
    evidence: tuple[EvidenceModel, ...]


@router.get(
    "/v1/waters",
    operation_id="find_waters",
    summary="Waters near a place, and those downstream of it",
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
        near=tuple(
            ReachedModel.model_validate(water)
            for water in waters_near(connection, longitude, latitude, within_m)
        ),
        downstream=tuple(
            ReachedModel.model_validate(water)
            for water in reached_waters(connection, traced, longitude, latitude)
        ),
    )


@router.get(
    "/v1/waters/{water_id:path}",
    operation_id="get_water",
    summary="One water, and what lies downstream of it",
)
def get_water(library: LibraryNow, water_id: str) -> WaterAnswer:
    """The water with its kind, area and states, and the waters below it."""
    connection = library.build.connection
    water = read_water(connection, WaterId(water_id))
    inside = read_water_geometry(connection, water.water_id).representative_point()
    traced = trace_from(connection, inside.x, inside.y)
    downstream = [
        reached
        for reached in reached_waters(connection, traced, inside.x, inside.y)
        if reached.water.water_id != water.water_id
    ]
    return WaterAnswer(
        store_build=library.build_id,
        as_of=today(),
        **WaterModel.model_validate(water).model_dump(),
        network_loaded=has_flow(connection),
        downstream=tuple(ReachedModel.model_validate(reached) for reached in downstream),
    )


@router.get(
    "/v1/occurrences/evidence",
    operation_id="get_evidence",
    summary="What the loaded records say of a plant around a place",
)
def get_evidence(library: LibraryNow, label: Label, near: Near) -> EvidenceAnswer:
    """Records in rings around the place, for each plant that the label may mean; none where no
    plant is known by it.
    """
    longitude, latitude = read_position(near)
    resolution = library.resolver.resolve(label)
    found = [
        (candidate, evidence(library.build.connection, candidate.plant_id, longitude, latitude))
        for candidate in resolution.candidates[:20]
    ]
    return EvidenceAnswer(
        store_build=library.build_id,
        as_of=today(),
        label=label,
        confirmed=resolution.confirmed,
        evidence=tuple(
            EvidenceModel(
                plant_id=candidate.plant_id,
                accepted_name=candidate.accepted_name,
                loaded=evidence.loaded,
                nearest_m=evidence.nearest_m,
                rings=tuple(RingModel.model_validate(ring) for ring in evidence.rings),
                first_year=evidence.first_year,
                latest_year=evidence.latest_year,
                datasets=tuple(
                    DatasetModel.model_validate(dataset) for dataset in evidence.datasets
                ),
            )
            for candidate, evidence in found
        ),
    )
