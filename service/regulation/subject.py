"""What a label denotes, as the law looks at it: a taxon with the ranks above it, its parents if
a hybrid, its cultivar.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from service.values.plants import Plant, Traits
from service.values.vocabulary import GrowthForm, Jurisdiction, Nativeness, PlantId, Rank

INFRASPECIFIC: frozenset[Rank] = frozenset({"subspecies", "variety", "form"})

Aquatic = Literal["yes", "wet-ground", "no"]
"""Whether it is an aquatic plant: it grows in water; on ground that is wet nearly always, so that
the word may or may not mean it; neither.
"""

_IN_WATER: frozenset[GrowthForm] = frozenset(
    {"submerged", "free-floating", "floating-leaved", "emergent"}
)


@dataclass(frozen=True, slots=True)
class Subject:
    """One taxon in question.

    Attributes:
        lineage: the taxon itself, then the ranks above it, nearest first; genera that it once was
            placed in and that no plant has any more come last.
        below: taxa of the store under it.
        hybrid_parents: of a hybrid, those that the store knows.
        genus_members: of a group of hybrids, the other plants of its genus.
        cultivar: epithet in lower case, or None.
        native: to North America, as the catalogue has it.
        native_states: states where it is native.
        aquatic: None is not known.
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
    native_states: frozenset[Jurisdiction] = frozenset()
    aquatic: Aquatic | None = None

    def __hash__(self) -> int:
        # Looked up for every line of a stock list; the rest follows from these two in one store.
        return hash((self.plant_id, self.cultivar))

    @property
    def bearing(self) -> tuple[PlantId, ...]:
        """Every plant whose entry may reach it."""
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
            {parent: tuple(sorted(under)) for parent, under in children.items()},
            _former_genera(by_id, scientific_names),
        )

    def subject(self, plant_id: PlantId, cultivar: str | None = None) -> Subject:
        """The taxon in question for a plant of the store."""
        subject = self._subjects.get(plant_id)
        if subject is None:
            subject = self._subjects[plant_id] = self._subject(self.plants[plant_id])
        return replace(subject, cultivar=cultivar.casefold()) if cultivar else subject

    def uncatalogued(
        self, plant_id: PlantId, name: str, rank: Rank, genus: str, cultivar: str | None = None
    ) -> Subject:
        """A taxon that the store does not have as a plant, placed under its genus where the store
        has that.
        """
        genus_plant = self._genera.get(genus)
        lineage = (plant_id, *self._upward(genus_plant)) if genus_plant else (plant_id,)
        return Subject(
            plant_id, name, rank, tuple(lineage), cultivar=cultivar.casefold() if cultivar else None
        )

    @cached_property
    def _subjects(self) -> dict[PlantId, Subject]:
        """Those made so far, without cultivar."""
        return {}

    def _subject(self, plant: Plant) -> Subject:
        return Subject(
            plant_id=plant.plant_id,
            name=plant.accepted_name,
            rank=plant.rank,
            lineage=(
                *self._upward(plant.plant_id),
                *self._former_genera.get(plant.plant_id, ()),
            ),
            below=tuple(self._downward(plant.plant_id)),
            hybrid_parents=plant.hybrid_parents,
            genus_members=self._genus_members(plant) if plant.rank == "cultivar group" else (),
            native=plant.traits.native_north_america,
            native_states=plant.native_states(),
            aquatic=self._aquatic(plant),
        )

    def _aquatic(self, plant: Plant) -> Aquatic | None:
        """By its own growth form, else by that of the species above it, else as all below it
        agree.
        """
        above = (self.plants[taxon].traits for taxon in self._upward(plant.plant_id))
        for traits in above:
            if traits.growth_form is not None:
                return _aquatic(traits)
        below = {
            _aquatic(self.plants[taxon].traits)
            for taxon in self._downward(plant.plant_id)
            if self.plants[taxon].traits.growth_form is not None
        }
        return below.pop() if len(below) == 1 else None

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
        return tuple(
            member for member in self._downward(group.parent_id) if member != group.plant_id
        )


def _aquatic(traits: Traits) -> Aquatic:
    if traits.growth_form in _IN_WATER:
        return "yes"
    # OBL of the National Wetland Plant List: occurs in wetlands in more than 99 of 100 cases.
    return "wet-ground" if "OBL" in traits.wetland_indicator else "no"


def _former_genera(
    plants: Mapping[PlantId, Plant], scientific_names: Iterable[tuple[str, PlantId]]
) -> dict[PlantId, tuple[PlantId, ...]]:
    """Genera that a list may still name though every member has moved: Eichhornia, now in
    Pontederia.

    A genus that some plant still has as accepted is left out, else a misplaced old synonym would
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
    return {plant_id: tuple(sorted(found)) for plant_id, found in former.items()}
