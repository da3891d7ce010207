"""The plants of the store."""

from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import Field

from service.api.asked import AskedRoute
from service.api.paging import ShortPage
from service.api.parameters import LibraryNow
from service.errors import NotFound
from service.input.day import today
from service.output.models.law import Answer, _Model
from service.store.library import Library
from service.values.plants import History, Plant, Range
from service.values.vocabulary import HowKnown, PlantId, Rank

router = APIRouter(route_class=AskedRoute, prefix="/v1/plants", tags=["plants"])


class TraitModel(_Model):
    """A trait with how it is known."""

    value: str | int | float | list[str] | list[float]
    how_known: HowKnown
    source: str = ""


class PlantModel(_Model):
    """A taxon of the store."""

    plant_id: str
    accepted_name: str
    authorship: str
    rank: Rank
    genus: str
    family: str
    parent_id: str | None
    hybrid_parents: tuple[str, ...]
    catalogued: Annotated[bool, Field(description="false for a taxon that stands only on lists")]


class PlantNameModel(_Model):
    """A name of a plant."""

    name: str
    kind: str
    note: str


class PlantsAnswer(Answer):
    """Plants found."""

    plants: tuple[PlantModel, ...]
    total: int


class PlantAnswer(Answer, PlantModel):
    """A plant with its traits and names."""

    traits: dict[str, TraitModel]
    names: tuple[PlantNameModel, ...]


@router.get("", operation_id="find_plants", summary="Plants whose names hold the words given")
def find_plants(
    library: LibraryNow,
    page: ShortPage,
    q: Annotated[
        str, Query(max_length=200, description="words of a name; all plants if empty")
    ] = "",
) -> PlantsAnswer:
    """By words of any name, scientific or common, in pages."""
    found = _found(library, q)
    plants = tuple(PlantModel.model_validate(plant) for plant in page.of(found))
    return PlantsAnswer(
        store_build=library.build_id, as_of=today(), plants=plants, total=len(found)
    )


@router.get(
    "/{plant_id}",
    operation_id="get_plant",
    summary="One plant with its traits, how each is known, and its names",
)
def get_plant(library: LibraryNow, plant_id: str) -> PlantAnswer:
    """What the catalogue says of it, each value with how it is known."""
    plant = library.plants.get(PlantId(plant_id))
    if plant is None:
        raise NotFound(
            f"No plant has the id {plant_id!r}.", next_step="Look it up by name: GET /v1/plants?q="
        )
    names = tuple(
        PlantNameModel.model_validate(name)
        for name in library.names
        if name.plant_id == plant.plant_id
    )
    return PlantAnswer(
        store_build=library.build_id,
        as_of=today(),
        **PlantModel.model_validate(plant).model_dump(),
        traits=_traits(plant),
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


def _traits(plant: Plant) -> dict[str, TraitModel]:
    shown: dict[str, TraitModel] = {}
    for column in plant.traits.__slots__:
        value = getattr(plant.traits, column)
        if value in (None, "", ()):
            continue
        known = plant.known(f"{column}_min") if isinstance(value, Range) else plant.known(column)
        plain = (
            [value.low, value.high]
            if isinstance(value, Range)
            else value.words()
            if isinstance(value, History)
            else list(value)
            if isinstance(value, tuple)
            else value
        )
        shown[column] = TraitModel(value=plain, how_known=known.how_known, source=known.source)
    return shown
