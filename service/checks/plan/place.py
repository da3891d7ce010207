"""A pond, stream or bog with its waters, climate and records, as all plantings in it share it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from service.checks.plan.values import LonLat
from service.escape import Assessment, Assessor, EscapeClass, HeldAssessment, PlannedMeasure
from service.store.occurrences import EvidenceReader, WaterShape
from service.values.evidence import Evidence
from service.values.plants import Plant
from service.values.site import Climate, Place, Reached
from service.values.vocabulary import Jurisdiction, PlantId


@dataclass
class PlaceContext:
    """One place. What was worked out for a plant is kept for the next planting of it.

    Attributes:
        state: of the site.
        well_known: plants to compare every chance of escape with.
    """

    reader: EvidenceReader
    place: Place
    climate: Climate
    position: LonLat | None
    waters: tuple[Reached, ...]
    state: Jurisdiction | None
    well_known: tuple[Plant, ...]
    shapes: tuple[WaterShape, ...]
    _evidence: dict[PlantId, Evidence] = field(default_factory=dict)
    _assessed: dict[tuple[tuple[PlantId, ...], tuple[PlannedMeasure, ...]], Assessment] = field(
        default_factory=dict
    )
    _held: dict[tuple[tuple[PlantId, ...], tuple[PlannedMeasure, ...]], HeldAssessment] = field(
        default_factory=dict
    )

    def assess(
        self, plants: Sequence[Plant], planned: tuple[PlannedMeasure, ...] = ()
    ) -> Assessment:
        """Would any of the plants get out, with what is planned."""
        key = (tuple(plant.plant_id for plant in plants), planned)
        if key not in self._assessed:
            records = self.evidence_of(plants)
            self._assessed[key] = self._assessor.assess(plants, records, planned)
        return self._assessed[key]

    def held(self, plants: Sequence[Plant], measures: tuple[PlannedMeasure, ...]) -> HeldAssessment:
        """The same with every measure kept up, in short."""
        key = (tuple(plant.plant_id for plant in plants), measures)
        if key not in self._held:
            records = self.evidence_of(plants)
            self._held[key] = self._assessor.held(plants, records, measures)
        return self._held[key]

    def classes(self, plants: Sequence[Plant]) -> tuple[EscapeClass | None, ...]:
        """Class of escape of each of several plants by itself, with nothing planned."""
        return self._assessor.classes(plants, self.evidence_of(plants))

    @cached_property
    def _assessor(self) -> Assessor:
        return Assessor(self.place, self.climate, self.waters, self.state, self.well_known)

    def evidence_of(self, plants: Sequence[Plant]) -> Mapping[PlantId, Evidence]:
        """What the records around say of each plant; empty without a position."""
        if self.position is None:
            return {}
        new = [plant.plant_id for plant in plants if plant.plant_id not in self._evidence]
        if new:
            self._evidence |= self.reader.of(new, *self.position, waters=self.shapes)
        return {plant.plant_id: self._evidence[plant.plant_id] for plant in plants}
