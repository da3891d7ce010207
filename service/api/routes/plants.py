"""The plants of the store."""

from typing import Annotated

from fastapi import APIRouter, Query

from service.api.asked import AskedRoute
from service.api.paging import ShortPage
from service.api.parameters import LibraryNow
from service.errors import NotFound
from service.input.person import today
from service.output.models.plants import PlantAnswer, PlantsAnswer, traits_of
from service.output.models.shape import schema_class
from service.store.library import Library
from service.values.plants import Plant
from service.values.vocabulary import PlantId

router = APIRouter(route_class=AskedRoute, prefix="/v1/plants", tags=["plants"])


@router.get(
    "",
    operation_id="find_plants",
    summary="Plants whose names hold the words given",
    response_model=schema_class(PlantsAnswer),
)
def find_plants(
    library: LibraryNow,
    page: ShortPage,
    q: Annotated[
        str, Query(max_length=200, description="words of a name; all plants if empty")
    ] = "",
) -> PlantsAnswer:
    """By words of any name, scientific or common, in pages."""
    found = _found(library, q)
    return PlantsAnswer(
        store_build=library.build_id,
        as_of=today(),
        plants=tuple(page.of(found)),
        total=len(found),
    )


@router.get(
    "/{plant_id}",
    operation_id="get_plant",
    summary="One plant with its traits, how each is known, and its names",
    response_model=schema_class(PlantAnswer),
)
def get_plant(library: LibraryNow, plant_id: str) -> PlantAnswer:
    """What the catalogue says of it, each value with how it is known."""
    plant = library.plants.get(PlantId(plant_id))
    if plant is None:
        raise NotFound(
            f"No plant has the id {plant_id!r}.", next_step="Look it up by name: GET /v1/plants?q="
        )
    names = tuple(name for name in library.names if name.plant_id == plant.plant_id)
    return PlantAnswer(
        store_build=library.build_id,
        as_of=today(),
        plant=plant,
        traits=traits_of(plant),
        names=names,
    )


def _found(library: Library, query: str) -> list[Plant]:
    words = query.casefold().split()
    ids = {
        name.plant_id
        for name in library.names
        if all(word in name.name.casefold() for word in words)
    }
    return sorted(
        (library.plants[plant_id] for plant_id in ids), key=lambda plant: plant.accepted_name
    )
