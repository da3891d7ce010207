"""What goes into an assessment beside the plant and the site, and what comes out of it."""

from dataclasses import dataclass
from typing import Literal

from service.escape.interval import Interval
from service.values.evidence import Dataset
from service.values.plants import Range
from service.values.site import ExitRoute
from service.values.vocabulary import HowKnown, PlantId, SpreadMode, WaterId
from service.values.waters import Relation

Propagule = SpreadMode | Literal["whole-plant"]
"""What travels: a way of spreading, or the unrooted plant itself."""

MeasureKind = Literal[
    "no-drain-tub",
    "solid-pot",
    "root-barrier",
    "foam-island",
    "floating-ring",
    "outlet-screen",
    "freeboard",
    "harvest",
    "autumn-removal",
]

EscapeClass = Literal["low", "moderate", "high"]
ESCAPE_CLASSES: tuple[EscapeClass, ...] = ("low", "moderate", "high")
"""Least first."""

Direction = Literal["raises", "lowers"]
"""``raises``: more of the value never lowers the result; ``lowers``: more of it never raises the
result.

For a value in words, more means further along its scale: slow to aggressive, still to moving away
    from the flow that
the plant is grown in, native here to introduced.
"""


@dataclass(frozen=True, slots=True)
class PlannedMeasure:
    """A way of holding the plant that is planned.

    Attributes:
        opening_mm: widest opening of an outlet screen; None when not stated, and for other
            measures.
    """

    kind: MeasureKind
    opening_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Factor:
    """One thing that the result rests on.

    Attributes:
        value: the fact as given; None where nobody has said, and ``interval`` then is all it may
            be.
        interval: what the fact gives, as a chance.
        weight: how far it moves its stage, 0 not at all, 1 from one end to the other.
        citation: of the coefficient or the fact; "common practice, no source" where there is none.
    """

    name: str
    value: str | float | bool | None
    unit: str
    interval: Interval
    direction: Direction
    weight: float
    how_known: HowKnown
    citation: str


@dataclass(frozen=True, slots=True)
class Stage:
    """Release, reach or establish: its interval and its factors, weightiest first."""

    interval: Interval
    factors: tuple[Factor, ...]


@dataclass(frozen=True, slots=True)
class RouteChance:
    """One way out toward one water.

    Attributes:
        released: a living piece leaves by it.
        arrives: it leaves by this route and comes to the water.
        propagule: what most likely travels; None when nothing does.
    """

    route: ExitRoute
    released: Interval
    arrives: Interval
    propagule: Propagule | None


@dataclass(frozen=True, slots=True)
class WaterAssessment:
    """The result for one water.

    ``interval`` is the noisy-or over ``routes`` of ``arrives``, times ``establish``. ``reach`` is
    that of the route and the propagule which bring most; with one route and one propagule, release
    x reach x establish is the interval.

    Attributes:
        water_id: empty for the unmapped water that stands in where no water is given.
        distance_m: along the network where the water lies downstream on it, else over land.
    """

    water_id: WaterId
    name: str
    relation: Relation
    distance_m: float | None
    interval: Interval
    escape_class: EscapeClass
    release: Stage
    reach: Stage
    establish: Stage
    routes: tuple[RouteChance, ...]


@dataclass(frozen=True, slots=True)
class Winter:
    """What the winter of the site does to the plant.

    Attributes:
        survives: the plant itself lives through the ten winters.
        returns: where it dies, it comes back in summer from seed, spores or winter buds.
        persists: either of the two.
        site_c: mean annual extreme minimum temperature of the site.
        limit_c: where the cold limit of the plant is thought to lie.
    """

    survives: Interval
    returns: Interval
    persists: Interval
    site_c: Range
    limit_c: Range


@dataclass(frozen=True, slots=True)
class Unknown:
    """A fact that nobody has given, and what knowing it would do.

    Attributes:
        fact: dotted, ``place.outlet``.
        narrows_by: mean fall in the width of the overall interval over the answers tried; negative
            where an answer opens more than it closes.
        narrows_stages_by: the same for the widths of arriving and establishing, mean over the
            waters.
        answers: each answer tried, and the overall interval with it.
    """

    fact: str
    question: str
    narrows_by: float
    narrows_stages_by: float
    answers: tuple[tuple[str, Interval], ...]


@dataclass(frozen=True, slots=True)
class Assessment:
    """Would it get out here, and to which water, over ten years.

    Attributes:
        candidates: the plant, or all that an ambiguous label may mean; then every interval covers
            all of them.
        waters: in the order asked.
        interval: to any of the waters: noisy-or over them, what they have in common (winter,
            founding, growth) counted once, and never above the chance that anything leaves the
            place.
        this_summer: the same with winter left out: what one plant that dies at frost can do each
            year it is planted.
        deciding_unknowns: the fact that would narrow the interval most comes first.
        paragraph: plain sentences.
        notes: what the answer could not take into account.
        datasets: occurrence data sets to cite.
    """

    candidates: tuple[PlantId, ...]
    waters: tuple[WaterAssessment, ...]
    interval: Interval
    escape_class: EscapeClass
    winter: Winter
    this_summer: Interval
    deciding_unknowns: tuple[Unknown, ...]
    paragraph: str
    notes: tuple[str, ...]
    datasets: tuple[Dataset, ...]
