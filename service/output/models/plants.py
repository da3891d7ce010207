"""The plants of the store as they are sent."""

from dataclasses import dataclass

from service.names import NameRecord
from service.output.models.law import Answer
from service.output.models.shape import Shape, may_be_left_out, usual
from service.values.plants import History, Plant, Range
from service.values.vocabulary import HowKnown


@dataclass(frozen=True, slots=True)
class Trait:
    """A trait with how it is known."""

    value: str | int | float | list[str] | list[float]
    how_known: HowKnown
    source: str = may_be_left_out("")


@dataclass(frozen=True, kw_only=True)
class PlantsAnswer(Answer):
    """Plants found."""

    plants: tuple[Plant, ...]
    total: int


@dataclass(frozen=True, kw_only=True)
class PlantAnswer(Answer):
    """A plant with its traits and names."""

    plant: Plant
    traits: dict[str, Trait]
    names: tuple[NameRecord, ...]


usual(
    Shape(
        Plant,
        order="plant_id accepted_name authorship rank genus family parent_id hybrid_parents "
        "catalogued",
        without="traits provenance state_records",
    ),
    Shape(
        NameRecord,
        name="PlantName",
        without="plant_id source_id sense also",
        kinds={"kind": str},
    ),
    Shape(PlantAnswer, order="... store_build as_of cautions traits names", spread="plant"),
)


def traits_of(plant: Plant) -> dict[str, Trait]:
    """What is known of a plant, each trait with how it is known."""
    shown: dict[str, Trait] = {}
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
        shown[column] = Trait(value=plain, how_known=known.how_known, source=known.source)
    return shown
