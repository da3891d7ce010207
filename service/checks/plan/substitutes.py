"""What instead: natives like the plant replaced, put through the same check in the same place, and
only until enough have passed.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from service.checks.label import findings_of
from service.checks.plan.place import PlaceContext
from service.checks.plan.values import SiteAnswer
from service.fit import fit
from service.regulation.finding import Question
from service.regulation.for_name import Naming
from service.regulation.restricted import restricted_in
from service.store.library import Library
from service.substitutes import CandidateFacts, Substitutes, alike, choose
from service.values.plants import Plant
from service.values.site import Position
from service.values.vocabulary import Outcome, PlantId, Rank, strictest

_NOT_BOUGHT: frozenset[Rank] = frozenset({"family", "genus"})


@dataclass
class SubstituteFinder:
    """Keeps what the plantings of one plan share: the natives like a plant, and the law on each."""

    library: Library
    site: SiteAnswer
    on: date
    _alike: dict[PlantId, list[Plant]] = field(default_factory=dict)
    _law: dict[tuple[PlantId, tuple[Question, ...]], tuple[Outcome, bool]] = field(
        default_factory=dict
    )
    _offered: dict[tuple[object, ...], Substitutes] = field(default_factory=dict)

    def offer(
        self,
        target: Plant,
        questions: Sequence[Question],
        place: PlaceContext | None,
        position: Position,
    ) -> Substitutes:
        """Plants to use instead of one, in the same position."""
        state = self.site.locality.state
        if state is None:
            reason = "Say in which state the site lies; natives of it are looked for."
            return Substitutes(target.plant_id, (), reason)
        asked = tuple(questions)
        name = place.place.name if place else None
        key = (target.plant_id, asked, name, position)
        if key not in self._offered:
            if target.plant_id not in self._alike:
                self._alike[target.plant_id] = alike(target, self._sold, state)
            self._offered[key] = choose(
                target,
                self._alike[target.plant_id],
                lambda plant: self._facts(plant, asked, place, position),
            )
        return self._offered[key]

    @cached_property
    def _sold(self) -> tuple[Plant, ...]:
        return tuple(
            plant
            for plant in self.library.plants.values()
            if plant.catalogued and plant.rank not in _NOT_BOUGHT
        )

    @cached_property
    def _by_genus(self) -> Mapping[str, list[Plant]]:
        genera: dict[str, list[Plant]] = {}
        for plant in self.library.plants.values():
            if plant.rank not in _NOT_BOUGHT:
                genera.setdefault(plant.genus, []).append(plant)
        return genera

    def _facts(
        self,
        plant: Plant,
        questions: tuple[Question, ...],
        place: PlaceContext | None,
        position: Position,
    ) -> CandidateFacts:
        outcome, listed = self._of_law(plant, questions)
        state = self.site.locality.state
        assert state is not None
        subject = self.library.taxonomy.subject(plant.plant_id)
        return CandidateFacts(
            plant,
            self.library.common_names.get(plant.plant_id, ""),
            plant.nativity(state),
            outcome,
            listed,
            len(restricted_in(self.library.law, subject, self.on)),
            fit(plant, place.place, position, place.climate) if place is not None else None,
            tuple(self._barred_kin(plant, questions)),
        )

    def _barred_kin(self, plant: Plant, questions: tuple[Question, ...]) -> Iterable[str]:
        """Other plants of its genus that the law here bars, for the acts asked or for sale."""
        state = self.site.locality.state
        for kin in self._by_genus.get(plant.genus, ()):
            if plant.plant_id in (kin.plant_id, kin.parent_id):
                continue
            subject = self.library.taxonomy.subject(kin.plant_id)
            barred = self._of_law(kin, questions)[0] in ("prohibited", "permit-required")
            unsold = kin.rank == "species" and state in restricted_in(
                self.library.law, subject, self.on
            )
            if barred or unsold:
                yield kin.accepted_name

    def _of_law(self, plant: Plant, questions: tuple[Question, ...]) -> tuple[Outcome, bool]:
        """The strictest outcome, and whether any entry was found for the plant."""
        key = (plant.plant_id, questions)
        if key not in self._law:
            naming = Naming("confirmed", (self.library.taxonomy.subject(plant.plant_id),))
            findings = findings_of(self.library, naming, questions)
            outcome: Outcome = (
                strictest([finding.outcome for finding in findings]) if findings else "undetermined"
            )
            self._law[key] = outcome, any(finding.citations for finding in findings)
        return self._law[key]
