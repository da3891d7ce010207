"""A pond, stream or bog with its waters, climate and records, as all plantings in it share it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from service.checks.plan.values import LonLat
from service.escape import Assessment, PlannedMeasure, assess_many, assess_widest
from service.store.occurrences import EvidenceReader, WaterShape
from service.values.evidence import Evidence
from service.values.plants import Plant
from service.values.site import Climate, Place
from service.values.vocabulary import Jurisdiction, PlantId
from service.values.waters import Reached


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

    def assess(
        self, plants: Sequence[Plant], planned: tuple[PlannedMeasure, ...] = ()
    ) -> Assessment:
        """Would any of the plants get out, with what is planned."""
        key = (tuple(plant.plant_id for plant in plants), planned)
        if key not in self._assessed:
            records = self.evidence_of(plants)
            self._assessed[key] = assess_widest(
                plants,
                self.place,
                self.climate,
                self.waters,
                records,
                state=self.state,
                containment=planned,
                well_known=self.well_known,
            )
        return self._assessed[key]

    def assess_each(self, plants: Sequence[Plant]) -> tuple[Assessment, ...]:
        """Each of several plants by itself, with nothing planned; what they share is worked out
        once.
        """
        new = [plant for plant in plants if ((plant.plant_id,), ()) not in self._assessed]
        if new:
            found = assess_many(
                new,
                self.place,
                self.climate,
                self.waters,
                self.evidence_of(new),
                state=self.state,
            )
            self._assessed |= {
                ((plant.plant_id,), ()): assessed
                for plant, assessed in zip(new, found, strict=True)
            }
        return tuple(self._assessed[(plant.plant_id,), ()] for plant in plants)

    def evidence_of(self, plants: Sequence[Plant]) -> Mapping[PlantId, Evidence]:
        """What the records around say of each plant; empty without a position."""
        if self.position is None:
            return {}
        new = [plant.plant_id for plant in plants if plant.plant_id not in self._evidence]
        if new:
            self._evidence |= self.reader.of(new, *self.position, waters=self.shapes)
        return {plant.plant_id: self._evidence[plant.plant_id] for plant in plants}
