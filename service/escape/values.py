"""What goes into an assessment beside the plant and the site, and what comes out of it."""

from dataclasses import dataclass
from typing import Literal

from service.escape.interval import Interval
from service.values.evidence import Dataset
from service.values.plants import Range
from service.values.site import EscapeRoute, Relation
from service.values.vocabulary import HowKnown, MeasureKind, PlantId, SpreadMode, WaterId

Propagule = SpreadMode | Literal["whole-plant"]
"""What travels: a way of spreading, or the unrooted plant itself."""

EscapeClass = Literal["low", "moderate", "high"]
ESCAPE_CLASSES: tuple[EscapeClass, ...] = ("low", "moderate", "high")
"""Least first."""

Direction = Literal["raises", "lowers"]
"""``raises``: more of the value never lowers the result; ``lowers``: more of it never raises the
result. For a value in words, more means further along its scale: slow to aggressive, still to
moving away from the flow that the plant is grown in.
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
class Estimate:
    """A chance, and how far it is known. Shares of one; ``low <= likely <= high``.

    Attributes:
        likely: the median over the samples.
        low, high: the 5th percentile over the samples with the facts that nobody has given at
            their mildest, and the 95th with them at their worst, so that an answer never widens
            the two.
        cannot_exclude: every fact and every coefficient at its mildest, and all at their worst.
    """

    likely: float
    low: float
    high: float
    cannot_exclude: Interval

    @classmethod
    def point(cls, chance: float) -> "Estimate":
        """A chance known exactly."""
        return cls(chance, chance, chance, Interval.point(chance))

    @property
    def interval(self) -> Interval:
        """From ``low`` to ``high``."""
        return Interval(self.low, self.high)


@dataclass(frozen=True, slots=True)
class Factor:
    """One thing that the result rests on.

    Attributes:
        value: the fact as given; None where nobody has said, and the range then is all it may be.
        interval: what the fact gives, as a chance, over the whole range of its coefficient.
        likely: the same with the coefficient half way through its range.
        weight: how far it moves its stage, 0 not at all, 1 from one end to the other.
        citation: of the coefficient or the fact; "common practice, no source" where there is none.
    """

    name: str
    value: str | float | bool | None
    unit: str
    interval: Interval
    likely: float
    direction: Direction
    weight: float
    how_known: HowKnown
    citation: str


@dataclass(frozen=True, slots=True)
class Stage:
    """Leaves, arrives or persists: its chance and its factors, weightiest first."""

    estimate: Estimate
    factors: tuple[Factor, ...]


@dataclass(frozen=True, slots=True)
class RouteChance:
    """One way out toward one water.

    Attributes:
        leaves: a living piece leaves by it.
        arrives: it leaves by this route and comes to the water.
        propagule: what most likely travels; None when nothing does.
    """

    route: EscapeRoute
    leaves: Estimate
    arrives: Estimate
    propagule: Propagule | None


@dataclass(frozen=True, slots=True)
class WaterAssessment:
    """The result for one water: leaves x arrives x would persist.

    Attributes:
        water_id: empty for the unmapped water that is answered where no water is given.
        distance_m: along the network where the water lies downstream on it, else over land.
        estimate: a living piece leaves, comes to this water and founds a stand that lasts.
        reaches: the next class, where ``high`` comes up to it; None where it does not.
        leaves: a living piece leaves by any way; certain for a plant set in the water itself.
        arrives: what has left comes to this water, over all ways; its factors are those of the
            way that brings most.
        persists: what has come founds a stand that lasts through the winters.
        routes: each way out, whether it matters or not.
    """

    water_id: WaterId
    name: str
    relation: Relation
    distance_m: float | None
    estimate: Estimate
    escape_class: EscapeClass
    reaches: EscapeClass | None
    leaves: Stage
    arrives: Stage
    persists: Stage
    routes: tuple[RouteChance, ...]

    @property
    def interval(self) -> Interval:
        """From ``low`` to ``high`` of the estimate."""
        return self.estimate.interval


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
    """A fact that nobody has given, and what knowing it would do, from the samples.

    Attributes:
        fact: dotted, ``place.outlet``.
        narrows_by: fall in the width from 5th to 95th percentile, mean over the answers.
        settles: the class depends on the answer.
        answers: each answer with the chance that the samples with it give.
    """

    fact: str
    question: str
    narrows_by: float
    settles: bool
    answers: tuple[tuple[str, Estimate], ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """A well-known plant at the same site, with nothing planned to hold it.

    Attributes:
        likely: of it.
        times: how many times as likely as it the plant is; None where it hardly escapes at all.
        words: "about as likely as yellow flag".
    """

    accepted_name: str
    common_name: str
    likely: float
    times: float | None
    words: str


@dataclass(frozen=True, slots=True)
class RouteShare:
    """What a measure takes from one route, as a share of what would leave by it; 0 to 0 where it
    does nothing.
    """

    route: EscapeRoute
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class MeasureEffect:
    """What one measure takes away from each route open to the plant.

    Attributes:
        words: "outlet losses: 60 to 95% less; birds and visitors: unchanged".
    """

    kind: MeasureKind
    routes: tuple[RouteShare, ...]
    words: str


@dataclass(frozen=True, slots=True)
class AlreadyHere:
    """Records of the plant around the site.

    Attributes:
        nearest_m: None where the nearest lies beyond the widest ring.
        latest_year: of any record in the widest ring; None where no record states one.
        records: in the widest ring.
        words: "already here, 1.2 km, last seen 2021".
    """

    nearest_m: float | None
    latest_year: int | None
    records: int
    words: str


@dataclass(frozen=True, slots=True)
class Assessment:
    """Would it get out here, and to which water, over ten years.

    Attributes:
        candidates: the plant, or all that an ambiguous label may mean; then the estimate covers
            all of them, and ``likely`` is that of the one that goes furthest.
        waters: in the order asked.
        estimate: to any of the waters: noisy-or over them, what they have in common (winter,
            founding, history) counted once, and never above the chance that anything leaves the
            place.
        escape_class: by ``likely``; None for a plant that is native to the state of the site,
            which is part of that flora and cannot escape into it.
        reaches: the next class, where ``high`` comes up to it; None where it does not.
        native: in words, where the plant is native to the state; else empty.
        this_summer: the same with winter left out: what one plant that dies at frost can do each
            year it is planted.
        deciding_unknowns: the facts that would decide it, the one that narrows most first.
        compared_with: well-known plants at the same site.
        measures: what each planned measure takes from each route.
        already_here: records of the plant around the site; None where there are none.
        paragraph: plain sentences.
        notes: what the answer could not take into account.
        datasets: occurrence data sets to cite.
    """

    candidates: tuple[PlantId, ...]
    waters: tuple[WaterAssessment, ...]
    estimate: Estimate
    escape_class: EscapeClass | None
    reaches: EscapeClass | None
    native: str
    winter: Winter
    this_summer: Estimate
    deciding_unknowns: tuple[Unknown, ...]
    compared_with: tuple[Comparison, ...]
    measures: tuple[MeasureEffect, ...]
    already_here: AlreadyHere | None
    paragraph: str
    notes: tuple[str, ...]
    datasets: tuple[Dataset, ...]

    @property
    def interval(self) -> Interval:
        """From ``low`` to ``high`` of the estimate."""
        return self.estimate.interval

    @property
    def likely(self) -> float:
        """The median chance."""
        return self.estimate.likely

    @property
    def low(self) -> float:
        """The 5th percentile."""
        return self.estimate.low

    @property
    def high(self) -> float:
        """The 95th percentile."""
        return self.estimate.high

    @property
    def cannot_exclude(self) -> Interval:
        """The corner of all ranges."""
        return self.estimate.cannot_exclude


@dataclass(frozen=True, slots=True)
class ScreenedWater:
    """The chance of one water, in short; all as of a ``WaterAssessment``."""

    water_id: WaterId
    name: str
    estimate: Estimate


@dataclass(frozen=True, slots=True)
class ScreenedEscape:
    """The chance that a plant escapes, in short.

    Attributes:
        estimate, escape_class: as of an ``Assessment``.
        waters: in the order asked; the unmapped one where none is given.
    """

    estimate: Estimate
    escape_class: EscapeClass | None
    waters: tuple[ScreenedWater, ...]


@dataclass(frozen=True, slots=True)
class HeldAssessment:
    """The chance that a plant escapes while every measure is kept up, in short.

    Attributes:
        escape_class: by ``likely``; None for a plant that is native to the state of the site.
        reaches: the next class, where ``high`` comes up to it; None where it does not.
        measures: what each measure takes from each route.
    """

    estimate: Estimate
    escape_class: EscapeClass | None
    reaches: EscapeClass | None
    measures: tuple[MeasureEffect, ...]
