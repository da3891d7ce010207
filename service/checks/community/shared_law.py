"""What the law says of the plantings of many sites, each question asked once."""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field
from datetime import date

from service.checks.plan.law import is_answered, lane_of, law_questions, restricted
from service.checks.plan.request import Planting
from service.checks.plan.site_location import SiteLocation
from service.checks.plan.sources import SourceNumbers
from service.checks.plan.values import PlanFinding, PlanLane, Role
from service.names import Resolution
from service.regulation.for_name import Inquiry, Naming
from service.store.library import Library
from service.values.site import Locality
from service.values.vocabulary import Act, Jurisdiction


@dataclass(frozen=True, slots=True)
class PlantingLaw:
    """What the law says of a label at a site, with the numbers of all sources in order."""

    findings: tuple[PlanFinding, ...]
    lane: PlanLane | None
    sources: tuple[int, ...]


@dataclass
class SharedLaw:
    """The law for all sites of a screening.

    Attributes:
        resolutions: of every label of the plantings.
        acts: asked of a planting that names none.
        numbers: of the sources, which count for the sites that use them.
    """

    library: Library
    on: date
    acts: tuple[Act, ...]
    resolutions: Mapping[str, Resolution]
    numbers: SourceNumbers = field(default_factory=SourceNumbers)
    _namings: dict[str, Naming] = field(default_factory=dict)
    _inquiries: dict[Hashable, tuple[tuple[Role, ...], Inquiry]] = field(default_factory=dict)
    _law: dict[Hashable, PlantingLaw] = field(default_factory=dict)
    _restrictions: dict[str, tuple[Jurisdiction, ...]] = field(default_factory=dict)

    def of(
        self,
        planting: Planting,
        located: SiteLocation,
        downstream: tuple[Jurisdiction, ...],
        site: int,
    ) -> PlantingLaw:
        """Worked out once for all plantings that ask the same.

        Args:
            site: its number.
        """
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
            found = self._law[key] = PlantingLaw(findings, lane, tuple(sorted(set(numbers))))
        self.numbers.used(found.sources, site)
        return found

    def _lane(
        self, planting: Planting, naming: Naming, locality: Locality, site: int
    ) -> PlanLane | None:
        lane = lane_of(self.library, naming, planting, locality, self.on)
        return PlanLane(lane, self.numbers.of_lane(lane, site)) if lane else None

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

    def restricted(self, label: str) -> tuple[Jurisdiction, ...]:
        """Jurisdictions that bar or limit selling or planting it."""
        if label not in self._restrictions:
            naming = self._naming(label)
            self._restrictions[label] = restricted(self.library, naming, self.on)
        return self._restrictions[label]

    def _naming(self, label: str) -> Naming:
        if label not in self._namings:
            self._namings[label] = self.library.naming(self.resolutions[label])
        return self._namings[label]
