"""A water body of the store, and how water runs from a site to it."""

from dataclasses import dataclass
from typing import Literal

from service.values.vocabulary import Flow, Jurisdiction, WaterId, WaterKind

Relation = Literal["contains", "downstream", "upstream", "near"]


@dataclass(frozen=True, slots=True)
class Water:
    """A named or unnamed water.

    Attributes:
        area_m2: of the surface; None for a line.
        longitude, latitude: a point on it, WGS84 degrees; None where only its distance is known.
        source_id: the data set it came from.
    """

    water_id: WaterId
    name: str
    kind: WaterKind
    flow: Flow
    longitude: float | None
    latitude: float | None
    area_m2: float | None = None
    states: tuple[Jurisdiction, ...] = ()
    source_id: str = ""


@dataclass(frozen=True, slots=True)
class Reached:
    """A water in relation to a site.

    Attributes:
        relation: ``downstream`` only where a loaded flow network leads from the site to it.
        overland_m: geodesic distance from the site to its nearest point; 0 inside.
        along_m: distance along the flow network, None unless downstream or upstream.
        lakes_passed: still waters passed on the way.
    """

    water: Water
    relation: Relation
    overland_m: float
    along_m: float | None = None
    lakes_passed: int = 0

    @property
    def distance_m(self) -> float:
        """Along the network where it lies downstream on it, else over land."""
        if self.relation == "downstream" and self.along_m is not None:
            return self.along_m
        return self.overland_m
