"""The facts of a planned site that several parts read: the place planted, how a plant is set in it,
and the waters around.

``None`` always means that nobody has said; it is never a no.
"""

from dataclasses import dataclass
from typing import Literal

from service.values.vocabulary import CountyFips, Flow, Jurisdiction, Light, WaterId, WaterKind

PlaceKind = Literal["pond", "stream", "bog"]
ExitRoute = Literal["outlet", "overflow", "flood", "bank", "birds-and-visitors"]
EscapeRoute = ExitRoute | Literal["surplus"]
"""The ways out of the place, and thinnings or spare plants given away or tipped out."""
Holding = Literal[
    "open-ground", "basket", "solid-pot", "no-drain-tub", "foam-island", "floating-ring"
]
Soil = Literal["aquatic-clay", "gravel", "peat-mix", "none"]


@dataclass(frozen=True, slots=True)
class Place:
    """A pond, stream or bog of the plan.

    Attributes:
        area_m2: of the water surface, or of the planted bed for a bog.
        depth_cm: of water where it is planted.
        outlet: whether water leaves by a pipe, channel or spillway in ordinary weather.
        outlet_flow_l_s: ordinary flow through that outlet.
        overflow: whether a storm can send water over the rim or spillway to other ground or water.
        flood_prone: whether high water of a neighbouring stream or lake can reach it.
        bank_contact: whether soil joins it to the ground outside, so that a plant can creep out.
        lined: whether a liner or tank wall closes it off from the ground.
        visited: whether water birds, livestock, anglers or boats come to it.
        surplus: whether thinnings and spare plants are given away or may be tipped out.
        grazing_fish: whether koi, grass carp or the like graze in it.
        freezing_depth_cm: how deep ice or frozen ground reaches in winter.
    """

    name: str
    kind: PlaceKind
    area_m2: float | None = None
    depth_cm: float | None = None
    flow: Flow | None = None
    light: Light | None = None
    outlet: bool | None = None
    outlet_flow_l_s: float | None = None
    overflow: bool | None = None
    flood_prone: bool | None = None
    bank_contact: bool | None = None
    lined: bool | None = None
    visited: bool | None = None
    surplus: bool | None = None
    grazing_fish: bool | None = None
    freezing_depth_cm: float | None = None


@dataclass(frozen=True, slots=True)
class Position:
    """How a planting is set in its place.

    Attributes:
        crown_depth_cm: water over the crown; negative is above the water.
        container_volume_l: of one pot, tub or basket.
    """

    crown_depth_cm: float | None = None
    holding: Holding | None = None
    container_volume_l: float | None = None
    soil: Soil | None = None
    light: Light | None = None
    flow: Flow | None = None


@dataclass(frozen=True, slots=True)
class Climate:
    """Winter and season of the site.

    Attributes:
        hardiness_zone: USDA half zone, ``6b``.
        extreme_minimum_c: mean annual extreme minimum temperature, low and high end of what is
            known.
        first_frost: mean date of the first autumn frost, ``MM-DD``.
    """

    hardiness_zone: str | None = None
    extreme_minimum_c: tuple[float, float] | None = None
    first_frost: str | None = None


@dataclass(frozen=True, slots=True)
class Locality:
    """Where the site is in law."""

    state: Jurisdiction | None = None
    county: CountyFips | None = None
    county_name: str = ""


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
