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
from service.checks.community.shared_law import SharedLaw
from service.checks.community.values import (
    Community,
    CommunityAnswer,
    CommunitySite,
    ScreenedPlanting,
    ScreenedSite,
    WaterChance,
)
from service.checks.community.waters import screened_waters
from service.checks.plan.law import strictest_of
from service.checks.plan.meanings import meanings_of, nativity_of
from service.checks.plan.planting import plant_of
from service.checks.plan.request import DEFAULT_ACTS, PlannedPlace, Planting
from service.checks.plan.site_location import SiteLocation, locate_site
from service.checks.plan.values import Judgement, Problem
from service.checks.plan.verdict import PlantingFacts, counts, grounds_of
from service.checks.plan.waters import NEAR_WITHIN_M, waters_given, waters_of
from service.escape import PlannedMeasure, ScreenedEscape, any_estimate, escape_class, screen
from service.fit import Fit, fit, read_by_fit
from service.geography.place import BORDER_TOLERANCE_M
from service.names import Resolution
from service.store.library import Library
from service.store.occurrences import EvidenceReader, WaterShape
from service.store.waters import read_water_geometry
from service.values.evidence import Presence
from service.values.plants import Plant
from service.values.site import Reached, Water
from service.values.vocabulary import Jurisdiction, PlantId, WaterId, strictest
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
        acts=context.law.acts,
        sites=tuple(sites),
        waters=screened_waters(community, sites, context.waters),
        priority=priorities(sites),
        ranking=RANKING,
        unanswered=community.unanswered,
        sources=context.law.numbers.sources(),
        problems=tuple(context.problems),
        assumptions=tuple(context.assumptions),
        cautions=(*STANDING_CAUTIONS, *(caution.text for caution in general_cautions())),
    )


@dataclass
class _Context:
    """What the sites share."""

    library: Library
    community: Community
    on: date
    border_tolerance_m: float
    problems: list[Problem] = field(init=False)
    assumptions: list[str] = field(default_factory=list)
    waters: dict[WaterId, tuple[Water, BaseGeometry | None]] = field(default_factory=dict)
    law: SharedLaw = field(init=False)
    _resolutions: dict[str, Resolution] = field(init=False)
    _fit: dict[Hashable, tuple[Fit, ...]] = field(default_factory=dict)
    _plants: dict[str, tuple[Plant, ...]] = field(default_factory=dict)
    _reader: EvidenceReader = field(init=False)

    def __post_init__(self) -> None:
        self.problems = list(self.community.problems)
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
        acts = self.community.acts or DEFAULT_ACTS
        self.law = SharedLaw(self.library, self.on, acts, self._resolutions)
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
        locality = located.locality
        law = self.law.of(planting, located, downstream, site.number)
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
            self.law.restricted(planting.label),
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

    def _plants_of(self, planting: Planting) -> tuple[Plant, ...]:
        label = planting.label
        if label not in self._plants:
            candidates = self._resolutions[label].candidates
            self._plants[label] = tuple(plant_of(self.library, plant) for plant in candidates)
        return self._plants[label]

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
