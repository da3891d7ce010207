"""What a label denotes, as the law looks at it: a taxon with the ranks above it, its parents if
a hybrid, its cultivar.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from service.values.plants import Plant
from service.values.vocabulary import Nativeness, PlantId, Rank

INFRASPECIFIC: frozenset[Rank] = frozenset({"subspecies", "variety", "form"})


@dataclass(frozen=True, slots=True)
class Subject:
    """One taxon in question.

    Attributes:
        lineage: the taxon itself, then the ranks above it, nearest first; genera that it once stood
            in and that no plant bears any more come last.
        below: taxa of the store under it.
        hybrid_parents: of a hybrid, those that the store knows.
        cultivar: epithet in lower case, or None.
        native: to North America, as the catalogue has it.
    """

    plant_id: PlantId
    name: str
    rank: Rank
    lineage: tuple[PlantId, ...]
    below: tuple[PlantId, ...] = ()
    hybrid_parents: tuple[PlantId, ...] = ()
    genus_members: tuple[PlantId, ...] = ()
    cultivar: str | None = None
    native: Nativeness | None = None

    @property
    def bearing(self) -> tuple[PlantId, ...]:
        """Every plant whose entry may bear on it."""
        return (*self.lineage, *self.hybrid_parents, *self.below, *self.genus_members)


@dataclass(frozen=True)
class Taxonomy:
    """The plants of the store, joined by rank.

    Args:
        plants: all of them.
        scientific_names: accepted names and strict synonyms, as (name, plant).
    """

    plants: Mapping[PlantId, Plant]
    _children: Mapping[PlantId, tuple[PlantId, ...]]
    _former_genera: Mapping[PlantId, tuple[PlantId, ...]]

    @classmethod
    def of(
        cls, plants: Iterable[Plant], scientific_names: Iterable[tuple[str, PlantId]]
    ) -> "Taxonomy":
        by_id = {plant.plant_id: plant for plant in plants}
        children: dict[PlantId, list[PlantId]] = defaultdict(list)
        for plant in by_id.values():
            if plant.parent_id is not None:
                children[plant.parent_id].append(plant.plant_id)
        return cls(
            by_id,
            {parent: tuple(sorted(each)) for parent, each in children.items()},
            _former_genera(by_id, scientific_names),
        )

    def subject(self, plant_id: PlantId, cultivar: str | None = None) -> Subject:
        """The taxon in question for a plant of the store."""
        plant = self.plants[plant_id]
        lineage = [*self._upward(plant_id), *self._former_genera.get(plant_id, ())]
        return Subject(
            plant_id=plant_id,
            name=plant.accepted_name,
            rank=plant.rank,
            lineage=tuple(lineage),
            below=tuple(self._downward(plant_id)),
            hybrid_parents=plant.hybrid_parents,
            genus_members=self._genus_members(plant) if plant.rank == "cultivar group" else (),
            cultivar=cultivar.casefold() if cultivar else None,
            native=plant.traits.native_north_america,
        )

    def stranger(
        self, plant_id: PlantId, name: str, rank: Rank, genus: str, cultivar: str | None = None
    ) -> Subject:
        """A taxon that the store does not hold as a plant, placed under its genus where the
        store has that.
        """
        genus_plant = self._genera.get(genus)
        lineage = (plant_id, *self._upward(genus_plant)) if genus_plant else (plant_id,)
        return Subject(
            plant_id, name, rank, tuple(lineage), cultivar=cultivar.casefold() if cultivar else None
        )

    @cached_property
    def _genera(self) -> dict[str, PlantId]:
        return {
            plant.accepted_name: plant.plant_id
            for plant in self.plants.values()
            if plant.rank == "genus"
        }

    def _upward(self, plant_id: PlantId) -> Iterable[PlantId]:
        current: PlantId | None = plant_id
        while current is not None:
            yield current
            current = self.plants[current].parent_id

    def _downward(self, plant_id: PlantId) -> Iterable[PlantId]:
        for child in self._children.get(plant_id, ()):
            yield child
            yield from self._downward(child)

    def _genus_members(self, group: Plant) -> tuple[PlantId, ...]:
        if group.parent_id is None:
            return ()
        return tuple(each for each in self._downward(group.parent_id) if each != group.plant_id)


def _former_genera(
    plants: Mapping[PlantId, Plant], scientific_names: Iterable[tuple[str, PlantId]]
) -> dict[PlantId, tuple[PlantId, ...]]:
    """Genera that a list may still name though every member has moved: Eichhornia, now in
    Pontederia.

    A genus that some plant still bears as accepted is left out, else a misplaced old synonym would
    drag a plant under it.
    """
    genera = {
        plant.accepted_name: plant.plant_id for plant in plants.values() if plant.rank == "genus"
    }
    living = {plant.genus for plant in plants.values() if plant.rank not in ("genus", "family")}
    former: dict[PlantId, set[PlantId]] = defaultdict(set)
    for name, plant_id in scientific_names:
        genus = name.split(" ", 1)[0]
        if genus in genera and genus not in living:
            former[plant_id].add(genera[genus])
    return {plant_id: tuple(sorted(each)) for plant_id, each in former.items()}
