"""Waters and occurrence records around a place, as they are sent."""

from dataclasses import dataclass
from typing import Annotated

from service.output.models.law import Answer
from service.output.models.shape import Shape, usual
from service.values.evidence import Evidence
from service.values.site import Reached, Water

WATER = Shape(
    Water,
    about="A water body.",
    # A water of the store has its place; one given by its distance alone is in no answer here.
    kinds={"longitude": float, "latitude": float},
    notes=dict.fromkeys(("longitude", "latitude"), "of a point on it, WGS84 degrees"),
)
REACHED = Shape(
    Reached,
    about="A water in relation to a place. Distances in metres; ``along_m`` follows the flow "
    "network.",
    kinds={"water": Annotated[Water, WATER]},
)


@dataclass(frozen=True, kw_only=True)
class WatersAnswer(Answer):
    """Waters near a place, nearest first, and those downstream of it.

    Attributes:
        loaded: false where the store holds no waters, so that none found says nothing.
        network_loaded: false where no flow network is loaded: straight-line distances only.
    """

    loaded: bool
    network_loaded: bool
    near: tuple[Annotated[Reached, REACHED], ...]
    downstream: tuple[Annotated[Reached, REACHED], ...]


@dataclass(frozen=True, kw_only=True)
class WaterAnswer(Answer):
    """A water with what lies downstream of it."""

    water: Annotated[Water, WATER]
    network_loaded: bool
    downstream: tuple[Annotated[Reached, REACHED], ...]


@dataclass(frozen=True, slots=True)
class PlantEvidence:
    """Occurrence evidence for one plant."""

    accepted_name: str
    evidence: Evidence


@dataclass(frozen=True, kw_only=True)
class EvidenceAnswer(Answer):
    """Occurrence evidence around a place, one for each plant that the label may mean."""

    label: str
    confirmed: bool
    evidence: tuple[PlantEvidence, ...]


usual(
    Shape(
        WaterAnswer,
        order="... store_build as_of cautions network_loaded downstream",
        spread="water",
    ),
    Shape(
        PlantEvidence,
        name="Evidence",
        order="plant_id accepted_name",
        without="waters",
        spread="evidence",
    ),
)
