"""A plan as it was read: typed, each part with the pointer to where it stands."""

from dataclasses import dataclass, field, fields
from datetime import date

from shapely.geometry.base import BaseGeometry

from service.checks.plan.values import PlanSite, Problem
from service.containment import ContainmentRequest
from service.escape import PlannedMeasure
from service.values.site import Place, Position, Relation, Water
from service.values.vocabulary import Act, Jurisdiction

DEFAULT_ACTS: tuple[Act, ...] = ("buy", "possess", "plant")
"""What a planting plan does with its plants, where it does not say."""


_OF_PLANTING = frozenset(
    {
        "prohibited",
        "duty",
        "count",
        "pot_volume_l",
        "pot_diameter_cm",
        "pot_base_diameter_cm",
        "pot_height_cm",
        "plant_mass_kg",
        "barrier_perimeter_m",
        "island_length_m",
        "island_width_m",
        "foam",
        "foam_thickness_mm",
        "overhang_limit_cm",
        "wanted_cover_share",
        "planted_cover_share",
        "doubling_days",
        "fresh_mass_kg_m2",
    }
)
PLACE_DESIGN = frozenset(field.name for field in fields(ContainmentRequest)) - _OF_PLANTING
"""Facts of a design that are the place's, not the planting's."""


@dataclass(frozen=True, slots=True)
class PlannedPlace:
    """A pond, stream or bog as stated.

    Attributes:
        design: the facts that measures are sized from.
        outlet_at, overflow_at: points where water leaves, in ordinary weather and in a storm.
    """

    place: Place
    pointer: str
    shape: BaseGeometry | None = None
    design: ContainmentRequest = field(default_factory=ContainmentRequest)
    outlet_at: BaseGeometry | None = None
    overflow_at: BaseGeometry | None = None


@dataclass(frozen=True, slots=True)
class GivenWater:
    """A water that the request names: drawn, or at a distance.

    Attributes:
        shape: WGS84; None where only a distance is given.
        relation: ``near`` or ``downstream``.
    """

    water: Water
    shape: BaseGeometry | None = None
    distance_m: float | None = None
    relation: Relation = "near"


@dataclass(frozen=True, slots=True)
class Planting:
    """One planting as stated.

    Attributes:
        place: name of a place of the plan; None where the plan does not tell which.
        acts: None where those of the plan hold.
        design: facts of the planting and of its place together.
        place_note: why there is no place, where that is so.
        problems: what of it could not be used.
    """

    number: int
    pointer: str
    label: str
    count: int | None = None
    place: str | None = None
    position: Position = field(default_factory=Position)
    shape: BaseGeometry | None = None
    acts: tuple[Act, ...] | None = None
    brought_from: Jurisdiction | None = None
    planned: tuple[PlannedMeasure, ...] = ()
    design: ContainmentRequest = field(default_factory=ContainmentRequest)
    place_note: str = ""
    problems: tuple[Problem, ...] = ()

    def at(self, field: str) -> str:
        """Where a field of it is in the document, or in the table."""
        if self.pointer.startswith("row "):
            return f'{self.pointer}, column "{field}"'
        return f"{self.pointer}/{field}"


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan to be checked. ``on`` None is today."""

    site: PlanSite
    plantings: tuple[Planting, ...]
    places: tuple[PlannedPlace, ...] = ()
    waters: tuple[GivenWater, ...] = ()
    title: str = ""
    prepared_for: str = ""
    prepared_by: str = ""
    note: str = ""
    on: date | None = None
    acts: tuple[Act, ...] | None = None
    problems: tuple[Problem, ...] = ()
