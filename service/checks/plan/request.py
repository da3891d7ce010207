"""A plan as it was read: typed, each part with the pointer to where it stands."""

from dataclasses import dataclass, field
from datetime import date

from shapely.geometry.base import BaseGeometry

from service.checks.plan.values import PlanSite, Problem
from service.containment import ContainmentRequest
from service.escape import PlannedMeasure
from service.values.site import Place, Position
from service.values.vocabulary import Act, Jurisdiction

DEFAULT_ACTS: tuple[Act, ...] = ("buy", "possess", "plant")
"""What a planting plan does with its plants, where it does not say."""


@dataclass(frozen=True, slots=True)
class PlannedPlace:
    """A pond, stream or bog as stated. ``design`` has the facts that measures are sized from."""

    place: Place
    pointer: str
    shape: BaseGeometry | None = None
    design: ContainmentRequest = field(default_factory=ContainmentRequest)


@dataclass(frozen=True, slots=True)
class Planting:
    """One planting as stated.

    Attributes:
        place: name of a place of the plan; None where the plan does not tell which.
        acts: None where those of the plan hold.
        design: facts of the planting and of its place together.
        place_note: why there is no place, where that is so.
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


@dataclass(frozen=True, slots=True)
class Plan:
    """A plan to be checked. ``on`` None is today."""

    site: PlanSite
    plantings: tuple[Planting, ...]
    places: tuple[PlannedPlace, ...] = ()
    title: str = ""
    prepared_for: str = ""
    prepared_by: str = ""
    note: str = ""
    on: date | None = None
    acts: tuple[Act, ...] | None = None
    problems: tuple[Problem, ...] = ()
