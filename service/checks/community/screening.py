"""The community screening: many sites and their plantings, worked out together so that what they
share is worked out once.

answer = screen_community(library, read_community(parse_json(content)), on=date(2026, 6, 1))
"""

from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from shapely.geometry.base import BaseGeometry

from service.cautions import general_cautions
from service.checks.community.ranking import RANKING, priorities
from service.checks.community.values import (
    Community,
    CommunityAnswer,
    CommunitySite,
    ScreenedPlanting,
    ScreenedSite,
    ScreenedWater,
    Sender,
    WaterChance,
)
from service.checks.plan.law import is_answered, law_questions, restricted, strictest_of
from service.checks.plan.meanings import meanings_of, nativity_of
from service.checks.plan.planting import plant_of
from service.checks.plan.request import DEFAULT_ACTS, PlannedPlace, Planting
from service.checks.plan.site_location import SiteLocation, locate_site
from service.checks.plan.sources import SourceNumbers
from service.checks.plan.values import Judgement, PlanFinding, PlanLane, Problem, Role
from service.checks.plan.verdict import PlantingFacts, counts, grounds_of
from service.checks.plan.waters import NEAR_WITHIN_M, waters_given, waters_of
from service.escape import PlannedMeasure, ScreenedEscape, any_estimate, escape_class, screen
from service.fit import Fit, fit, read_by_fit
from service.geography.place import BORDER_TOLERANCE_M
from service.names import Resolution
from service.regulation.for_name import Inquiry, Naming
from service.regulation.shipping import ship
from service.store.library import Library
from service.store.occurrences import EvidenceReader, WaterShape
from service.store.waters import read_water_geometry
from service.values.evidence import Presence
from service.values.plants import Plant
from service.values.site import Locality, Reached, Water
from service.values.vocabulary import Act, Jurisdiction, PlantId, WaterId, strictest
from service.values.words import STANDING_CAUTIONS

Progress = Callable[[int, int], None]
"""Sites answered, and all."""

_FITS = ("does-not-fit", "unknown", "fits-with-change", "fits")
"""Worst first."""


def screen_community(
    library: Library,
    community: Community,
    *,
    on: date,
    border_tolerance_m: float = BORDER_TOLERANCE_M,
    progress: Progress | None = None,
) -> CommunityAnswer:
    """Answer every site, then every water that any of them can reach.

    Args:
        on: the day to answer for, where the document names none.
        progress: called after each site; an error that it raises ends the work.
    """
    context = _Context(library, community, community.on or on, border_tolerance_m)
    sites: list[ScreenedSite] = []
    for site in community.sites:
        sites.append(context.screened(site))
        if progress is not None:
            progress(len(sites), len(community.sites))
    return CommunityAnswer(
        store_build=library.build_id,
        as_of=context.on,
        title=community.title,
        acts=context.acts,
        sites=tuple(sites),
        waters=_waters(context, sites),
        priority=priorities(sites),
        ranking=RANKING,
        unanswered=community.unanswered,
        sources=context.numbers.sources(),
        problems=tuple(context.problems),
        assumptions=tuple(context.assumptions),
        cautions=(*STANDING_CAUTIONS, *(caution.text for caution in general_cautions())),
    )


@dataclass(frozen=True, slots=True)
class _Law:
    """What the law says of a label at a site, with the numbers of all sources in order."""

    findings: tuple[PlanFinding, ...]
    lane: PlanLane | None
    sources: tuple[int, ...]


@dataclass
class _Context:
    """What the sites share."""

    library: Library
    community: Community
    on: date
    border_tolerance_m: float
    numbers: SourceNumbers = field(default_factory=SourceNumbers)
    problems: list[Problem] = field(init=False)
    assumptions: list[str] = field(default_factory=list)
    waters: dict[WaterId, tuple[Water, BaseGeometry | None]] = field(default_factory=dict)
    acts: tuple[Act, ...] = field(init=False)
    _resolutions: dict[str, Resolution] = field(init=False)
    _namings: dict[str, Naming] = field(default_factory=dict)
    _inquiries: dict[Hashable, tuple[tuple[Role, ...], Inquiry]] = field(default_factory=dict)
    _law: dict[Hashable, "_Law"] = field(default_factory=dict)
    _fit: dict[Hashable, tuple[Fit, ...]] = field(default_factory=dict)
    _plants: dict[str, tuple[Plant, ...]] = field(default_factory=dict)
    _restrictions: dict[str, tuple[Jurisdiction, ...]] = field(default_factory=dict)
    _reader: EvidenceReader = field(init=False)

    def __post_init__(self) -> None:
        self.problems = list(self.community.problems)
        self.acts = self.community.acts or DEFAULT_ACTS
        self._reader = EvidenceReader(self.library.build.connection)
        self.waters |= {
            water.water.water_id: (water.water, water.shape)
            for water in (
                *self.community.waters,
                *(water for site in self.community.sites for water in site.waters),
            )
        }
        plantings = [planting for site in self.community.sites for planting in site.plantings]
        labels = list(dict.fromkeys(planting.label for planting in plantings))
        self._resolutions = dict(
            zip(labels, self.library.resolver.resolve_all(labels), strict=True)
        )
        if self.community.acts is None and any(planting.acts is None for planting in plantings):
            self.assumptions.append(
                f"The document names no acts: {', '.join(DEFAULT_ACTS)} are asked."
            )
        unstated = sum(len(site.places) > 1 for site in self.community.sites)
        if unstated:
            said = "One site does not say" if unstated == 1 else f"{unstated} sites do not say"
            self.assumptions.append(
                f"{said} whether it is pond, stream or bog: both pond and stream are covered."
            )

    def screened(self, site: CommunitySite) -> ScreenedSite:
        """One site."""
        shape = site.site.shape
        located = locate_site(
            self.library,
            site.site,
            shape,
            f"{site.pointer}/properties",
            self.problems,
            border_tolerance_m=self.border_tolerance_m,
        )
        found = waters_of(self.library.build.connection, shape)
        reached = (*found.reached, *self._shared(site, shape))
        downstream = tuple(
            crossed.state
            for crossed in found.trace.states
            if crossed.state != located.locality.state
        )
        escapes = self._escapes(site, located, reached)
        plantings = tuple(
            self._planting(site, planting, located, downstream, reached, escapes)
            for planting in site.plantings
        )
        outcomes = [screened.outcome for screened in plantings if screened.outcome is not None]
        whole = any_estimate(
            screened.escape for screened in plantings if screened.escape is not None
        )
        foreign = any_estimate(
            screened.escape
            for screened in plantings
            if screened.escape is not None and not screened.native
        )
        location = located.location
        if shape is not None and located.locality.state is None:
            self.problems.append(
                Problem(
                    f"{site.pointer}/geometry",
                    f"{site.name} lies in no state of the United States that is loaded here; no "
                    "law was looked up for it.",
                    "Check the position, longitude first; or state the state.",
                )
            )
        return ScreenedSite(
            number=site.number,
            pointer=site.pointer,
            name=site.name,
            shape=shape,
            position=located.position,
            state=located.locality.state,
            county=located.locality.county,
            county_name=located.locality.county_name,
            zones=location.zones,
            neighbours=located.neighbours,
            downstream_states=downstream,
            plantings=plantings,
            outcome=strictest(outcomes) if outcomes else None,
            escape=whole,
            escape_class=escape_class(whole),
            likely=foreign.likely if reached else None,
            notes=located.notes,
            given=site.given,
            feature_id=site.feature_id,
        )

    def _shared(self, site: CommunitySite, shape: BaseGeometry | None) -> tuple[Reached, ...]:
        """The waters of the request, as the site reaches them: its own, then the shared ones, down
        the drain it names, else by the distance stated, else over land where they are drawn.
        """
        found = list(waters_given(site.waters, shape))
        for water in self.community.waters:
            if site.drains_to is not None and site.drains_to == water.water.name:
                along_m = site.drains_along_m or 0.0
                drain = replace(water, distance_m=along_m, relation="downstream")
                found += waters_given((drain,), shape)
            else:
                found += [
                    reached
                    for reached in waters_given((water,), shape)
                    if water.distance_m is not None or reached.overland_m <= NEAR_WITHIN_M
                ]
        return tuple(found)

    def _escapes(
        self, site: CommunitySite, located: SiteLocation, reached: tuple[Reached, ...]
    ) -> dict[int, ScreenedEscape]:
        """By planting, covering the plants that its label may mean and the kinds of place that the
        site may be.
        """
        wanted: dict[tuple[PlannedMeasure, ...], dict[PlantId, Plant]] = {}
        for planting in site.plantings:
            wanted.setdefault(planting.planned, {}).update(
                (plant.plant_id, plant) for plant in self._plants_of(planting)
            )
        presence: Mapping[PlantId, Presence] = {}
        if located.position is not None:
            shapes: list[WaterShape] = [
                (water.water.water_id, water.relation, shape)
                for water in reached
                if (shape := self._shape(water.water)) is not None
            ]
            every = [plant_id for plants in wanted.values() for plant_id in plants]
            presence = self._reader.presence(every, *located.position, waters=shapes)
        chances = {
            planned: screen(
                tuple(plants.values()),
                [place.place for place in site.places],
                located.climate,
                reached,
                presence,
                state=located.locality.state,
                containment=planned,
            )
            for planned, plants in wanted.items()
        }
        return {
            planting.number: chances[planting.planned].of(plants)
            for planting in site.plantings
            if (plants := self._plants_of(planting))
        }

    def _planting(
        self,
        site: CommunitySite,
        planting: Planting,
        located: SiteLocation,
        downstream: tuple[Jurisdiction, ...],
        reached: tuple[Reached, ...],
        escapes: dict[int, ScreenedEscape],
    ) -> ScreenedPlanting:
        resolution = self._resolutions[planting.label]
        locality, law = located.locality, self._law_of(planting, located, downstream, site.number)
        escape = escapes.get(planting.number)
        klass = escape.escape_class if escape else None
        plants = self._plants_of(planting)
        nativity = nativity_of(plants, locality.state)
        native = nativity is not None and nativity.status == "native"
        # low for any kind of place is not low for this one, which nobody has stated
        may_escape = klass != "low" or len(site.places) > 1
        counting = [
            found.finding
            for found in law.findings
            if counts(found, native=native, escapes=may_escape)
        ]
        lane = law.lane.lane if law.lane else None
        outcome, verified = strictest_of(counting, lane)
        fits = self._fits(planting, site.places, located)
        facts = PlantingFacts(
            resolution,
            plants,
            planting.position,
            law.findings,
            law.lane,
            fits,
            escape,
            None,
            native,
            self._restricted(planting.label),
        )
        meanings = () if resolution.confirmed else meanings_of(plants, {}, fits, (), locality.state)
        judged = Judgement(grounds_of(facts, locality, located.location.state, meanings))
        return ScreenedPlanting(
            number=planting.number,
            pointer=planting.pointer,
            label=planting.label,
            count=planting.count,
            resolution=resolution,
            findings=tuple((found.role, found.finding) for found in law.findings),
            lane=lane,
            outcome=outcome,
            verified=verified,
            verdict=judged.verdict,
            conditions=judged.conditions,
            nativity=nativity,
            restricted_in=facts.restricted_in,
            fit=min((fit.verdict for fit in fits), key=_FITS.index, default=None),
            native=native if locality.state else None,
            escape=escape.estimate if escape else None,
            escape_class=klass,
            waters=tuple(_chances(escape, reached)) if escape else (),
            sources=law.sources,
        )

    def _fits(
        self, planting: Planting, places: Sequence[PlannedPlace], located: SiteLocation
    ) -> tuple[Fit, ...]:
        """Of each plant the worst over the kinds of place that the site may be."""
        like = tuple(read_by_fit(place.place) for place in places)
        key = (planting.label, like, planting.position, located.climate)
        if key not in self._fit:
            self._fit[key] = tuple(
                min(
                    (fit(plant, place, planting.position, located.climate) for place in like),
                    key=lambda found: _FITS.index(found.verdict),
                )
                for plant in self._plants_of(planting)
            )
        return self._fit[key]

    def _restricted(self, label: str) -> tuple[Jurisdiction, ...]:
        if label not in self._restrictions:
            naming = self._naming(label)
            self._restrictions[label] = restricted(self.library, naming, self.on)
        return self._restrictions[label]

    def _plants_of(self, planting: Planting) -> tuple[Plant, ...]:
        label = planting.label
        if label not in self._plants:
            candidates = self._resolutions[label].candidates
            self._plants[label] = tuple(plant_of(self.library, plant) for plant in candidates)
        return self._plants[label]

    def _naming(self, label: str) -> Naming:
        if label not in self._namings:
            self._namings[label] = self.library.naming(self._resolutions[label])
        return self._namings[label]

    def _law_of(
        self,
        planting: Planting,
        located: SiteLocation,
        downstream: tuple[Jurisdiction, ...],
        site: int,
    ) -> "_Law":
        """What the law says, worked out once for all plantings that ask the same."""
        locality, acts = located.locality, planting.acts or self.acts
        key = (
            planting.label,
            planting.brought_from,
            acts,
            locality.state,
            locality.county,
            located.neighbours,
            downstream,
        )
        found = self._law.get(key)
        if found is None:
            naming = self._naming(planting.label)
            roles, inquiry = self._inquiry(located, downstream, acts)
            answers = [
                PlanFinding(role, finding, self.numbers.of_finding(finding, site))
                for role, finding in zip(roles, inquiry.findings(naming), strict=True)
            ]
            findings = tuple(found for found in answers if is_answered(found.role, found.finding))
            lane = self._lane(planting, naming, locality, site)
            numbers = [number for found_here in findings for number in found_here.sources]
            numbers += [number for step in (lane.sources if lane else ()) for number in step]
            found = self._law[key] = _Law(findings, lane, tuple(sorted(set(numbers))))
        self.numbers.used(found.sources, site)
        return found

    def _lane(
        self, planting: Planting, naming: Naming, locality: Locality, site: int
    ) -> PlanLane | None:
        if planting.brought_from is None or locality.state is None:
            return None
        lane = ship(
            self.library.law,
            naming,
            planting.brought_from,
            locality.state,
            self.on,
            locality.county,
        )
        return PlanLane(lane, self.numbers.of_lane(lane, site))

    def _inquiry(
        self, located: SiteLocation, downstream: tuple[Jurisdiction, ...], acts: tuple[Act, ...]
    ) -> tuple[tuple[Role, ...], Inquiry]:
        """The questions of all plantings of such a site, and the role of each."""
        locality = located.locality
        key = (locality.state, locality.county, located.neighbours, downstream, acts)
        if key not in self._inquiries:
            asked = list(law_questions(*key, self.on))
            roles = tuple(role for role, _ in asked)
            questions = [question for _, question in asked]
            self._inquiries[key] = roles, Inquiry(self.library.law, questions)
        return self._inquiries[key]

    def _shape(self, water: Water) -> BaseGeometry | None:
        if water.water_id not in self.waters:
            self.waters[water.water_id] = (
                water,
                read_water_geometry(self.library.build.connection, water.water_id),
            )
        return self.waters[water.water_id][1]


def _chances(escape: ScreenedEscape, reached: Sequence[Reached]) -> Iterator[WaterChance]:
    """Escape to each water that is known; without any, an unmapped one takes its place and is left
    out here.
    """
    for there, found in zip(reached, escape.waters, strict=False):
        yield WaterChance(there.water.water_id, there.relation, there.distance_m, found.estimate)


def _waters(context: _Context, sites: Sequence[ScreenedSite]) -> tuple[ScreenedWater, ...]:
    """Every water that a site reaches, with what could come to it, the most threatened first."""
    senders: dict[WaterId, list[Sender]] = {
        water.water.water_id: [] for water in context.community.waters
    }
    for site in sites:
        for planting in site.plantings:
            for chance in planting.waters:
                sender = Sender(
                    site.number,
                    planting.number,
                    site.name,
                    planting.name,
                    planting.native,
                    chance.relation,
                    chance.distance_m,
                    chance.estimate,
                )
                senders.setdefault(chance.water_id, []).append(sender)
    shared = {water.water.water_id for water in context.community.waters}
    found = []
    for water_id, several in senders.items():
        water, shape = context.waters[water_id]
        whole = any_estimate(sender.estimate for sender in several)
        ordered = sorted(
            several,
            key=lambda sender: (
                -sender.estimate.likely,
                -sender.estimate.high,
                sender.site,
                sender.planting,
            ),
        )
        elsewhere = any_estimate(sender.estimate for sender in several if not sender.native)
        found.append(
            ScreenedWater(
                water,
                shape,
                water_id in shared,
                whole,
                elsewhere,
                escape_class(elsewhere),
                tuple(ordered),
                context.community.given_of_waters.get(water_id, {}),
            )
        )
    return tuple(
        sorted(
            found,
            key=lambda water: (
                -water.not_native.likely,
                -water.estimate.likely,
                water.water.name,
                water.water.water_id,
            ),
        )
    )
