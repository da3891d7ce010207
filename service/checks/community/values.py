"""A community screening: what is asked, and what was found of each site, planting and water."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Literal

from shapely.geometry.base import BaseGeometry

from service.checks.plan.request import GivenWater, PlannedPlace, Planting
from service.checks.plan.values import LonLat, NumberedSource, PlanSite, Problem, Role, Verdict
from service.escape import EscapeClass, Estimate
from service.fit import Verdict as FitVerdict
from service.names import Resolution
from service.regulation.finding import Finding
from service.regulation.shipping import Lane
from service.values.nativity import Nativity
from service.values.site import Relation, Water
from service.values.vocabulary import Act, BuildId, CountyFips, Jurisdiction, Outcome, WaterId


@dataclass(frozen=True, slots=True)
class CommunitySite:
    """One site as stated.

    Attributes:
        places: its place; two of them, pond and stream, where nobody has said which it is, and the
            answer then covers both.
        drains_to: name of a shared water that it drains to, ``drains_along_m`` along the drain.
        given: the properties of its feature as they came, to send them back.
        feature_id: of its feature, where it has one.
        waters: that the request names for this site alone.
    """

    number: int
    pointer: str
    name: str
    site: PlanSite
    places: tuple[PlannedPlace, ...]
    plantings: tuple[Planting, ...]
    drains_to: str | None = None
    drains_along_m: float | None = None
    given: Mapping[str, Any] = field(default_factory=dict)
    feature_id: str | int | None = None
    waters: tuple[GivenWater, ...] = ()


@dataclass(frozen=True, slots=True)
class UnansweredSite:
    """A site without a planting that can be read: it comes back as it came, with why.

    Attributes:
        given, feature_id: of its feature, as they came.
    """

    number: int
    pointer: str
    name: str
    shape: BaseGeometry | None
    why: str
    given: Mapping[str, Any] = field(default_factory=dict)
    feature_id: str | int | None = None


@dataclass(frozen=True, slots=True)
class Community:
    """Many sites to be screened. ``on`` None is today.

    Attributes:
        waters: that the sites share; one given by its distance alone is as far from each of them.
        given_of_waters: properties of the features of shared waters as they came, with ``id`` where
            a feature has one.
    """

    sites: tuple[CommunitySite, ...]
    waters: tuple[GivenWater, ...] = ()
    title: str = ""
    on: date | None = None
    acts: tuple[Act, ...] | None = None
    problems: tuple[Problem, ...] = ()
    given_of_waters: Mapping[WaterId, Mapping[str, Any]] = field(default_factory=dict)
    unanswered: tuple[UnansweredSite, ...] = ()

    @property
    def size(self) -> int:
        """Plantings over all sites."""
        return sum(len(site.plantings) for site in self.sites)


@dataclass(frozen=True, slots=True)
class WaterChance:
    """Escape of one planting to one water."""

    water_id: WaterId
    relation: Relation
    distance_m: float | None
    estimate: Estimate


@dataclass(frozen=True, slots=True)
class ScreenedPlanting:
    """One planting, in short.

    Attributes:
        findings: as a plan check has them; the same for every planting that asks the same.
        outcome: as in a plan check; None where the state is not known.
        verdict, conditions, nativity, restricted_in: as in a plan check.
        native: whether every plant that is meant is native to the region; None where the state is
            not known.
        escape: to any water; None where no plant is known by the label.
        sources: numbers of the sources, of the law alone.
    """

    number: int
    pointer: str
    label: str
    count: int | None
    resolution: Resolution
    findings: tuple[tuple[Role, Finding], ...]
    lane: Lane | None
    outcome: Outcome | None
    verified: bool
    verdict: Verdict
    conditions: tuple[str, ...]
    nativity: Nativity | None
    restricted_in: tuple[Jurisdiction, ...]
    fit: FitVerdict | None
    native: bool | None
    escape: Estimate | None
    escape_class: EscapeClass | None
    waters: tuple[WaterChance, ...]
    sources: tuple[int, ...]

    @property
    def name(self) -> str:
        """The accepted name, several where the label may mean several, or the label."""
        return (
            " or ".join(candidate.accepted_name for candidate in self.resolution.candidates[:3])
            or self.label
        )


@dataclass(frozen=True, slots=True)
class ScreenedSite:
    """One site with its plantings.

    Attributes:
        shape: as given.
        outcome: the strictest over its plantings.
        escape: that any of its plantings gets out to any water: noisy-or over them.
        likely: the likely chance of the same over the plantings that are not native; None where no
            water is known, so that nobody can say.
        given: properties of its feature, as they came.
        feature_id: of its feature, as it came.
        notes: what was assumed or could not be looked up.
    """

    number: int
    pointer: str
    name: str
    shape: BaseGeometry | None
    position: LonLat | None
    state: Jurisdiction | None
    county: CountyFips | None
    county_name: str
    zones: tuple[str, ...]
    neighbours: tuple[Jurisdiction, ...]
    downstream_states: tuple[Jurisdiction, ...]
    plantings: tuple[ScreenedPlanting, ...]
    outcome: Outcome | None
    escape: Estimate
    escape_class: EscapeClass
    likely: float | None
    notes: tuple[str, ...]
    given: Mapping[str, Any] = field(default_factory=dict)
    feature_id: str | int | None = None


@dataclass(frozen=True, slots=True)
class Sender:
    """A planting of a site that could come to a water."""

    site: int
    planting: int
    site_name: str
    plant: str
    native: bool | None
    relation: Relation
    distance_m: float | None
    estimate: Estimate


@dataclass(frozen=True, slots=True)
class ScreenedWater:
    """One water and all that could come to it.

    Attributes:
        estimate: that anything comes and founds a lasting stand: noisy-or over the senders,
            which are taken as independent.
        not_native: the same over the senders of plants that are not known as native to their
            region.
        escape_class: by the likely chance of ``not_native``.
        given: properties of its feature as they came; empty for a water of the store.
        senders: the likeliest first, by the upper end.
        shape: None for one given by its distance alone.
        shared: given in the request.
    """

    water: Water
    shape: BaseGeometry | None
    shared: bool
    estimate: Estimate
    not_native: Estimate
    escape_class: EscapeClass
    senders: tuple[Sender, ...]
    given: Mapping[str, Any] = field(default_factory=dict)


SiteGroup = Literal["barred", "permit", "likely", "no-waters"]
SITE_GROUPS: tuple[SiteGroup, ...] = ("barred", "permit", "likely", "no-waters")
"""In the order in which to see to them."""


@dataclass(frozen=True, slots=True)
class Priority:
    """A site in the order in which to see to them.

    Attributes:
        tier: 1 to 4, the place of its group.
        group: ``barred``: a planting that the law bars; ``permit``: one that needs a permit;
            ``likely``: the others; ``no-waters``: those of the others for which no water is known.
        likely: of the site.
        lead: number of the planting that brings it to its rank.
    """

    rank: int
    tier: int
    group: SiteGroup
    likely: float | None
    site: int
    site_name: str
    lead: int
    why: str


@dataclass(frozen=True, slots=True)
class CommunityAnswer:
    """Many sites, answered.

    Waters stand with the most threatened by plants from elsewhere first, sites in the order of the
    document.

    Attributes:
        store_build: content hash of all that the store was built from.
        as_of: the day that the answer is for.
        sources: ``used_by`` has the numbers of sites.
        unanswered: sites without a planting that can be read; they have no rank.
    """

    store_build: BuildId
    as_of: date
    title: str
    acts: tuple[Act, ...]
    sites: tuple[ScreenedSite, ...]
    waters: tuple[ScreenedWater, ...]
    priority: tuple[Priority, ...]
    ranking: str
    sources: tuple[NumberedSource, ...]
    problems: tuple[Problem, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]
    unanswered: tuple[UnansweredSite, ...] = ()

    def site(self, number: int) -> ScreenedSite:
        """The site of a number."""
        return next(site for site in self.sites if site.number == number)
