"""What instead: candidates of the catalogue with the facts of this site, worked out only as far as they are needed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from service.escape import Assessment
from service.fit import fit
from service.plants import Plant
from service.regulation.finding import Question
from service.regulation.widest import Naming, find_widest
from service.screening.plan_spot import Spot
from service.site import Position
from service.store.library import Library
from service.substitutes import CandidateFacts, Substitutes, distance_between, substitutes
from service.substitutes.parameters import weights
from service.vocabulary import OUTCOMES, Coverage, Outcome, PlantId, Rank

_NOT_BOUGHT: frozenset[Rank] = frozenset({"family", "genus"})
_COVERAGES: tuple[Coverage, ...] = ("none", "partial", "complete")
MOST = 5


@dataclass
class SubstituteDesk:
    """Keeps what the plantings of one plan share: the law on each candidate, and its escape from each place."""

    library: Library
    region: str | None
    _law: dict[tuple[Question, ...], Mapping[PlantId, CandidateFacts]] = field(default_factory=dict)
    _offered: dict[tuple[object, ...], Substitutes] = field(default_factory=dict)

    def offer(self, target: Plant, outcome: Outcome, questions: Sequence[Question], spot: Spot | None, position: Position) -> Substitutes:
        """Plants to use instead of one, in the same position."""
        key = (target.plant_id, outcome, tuple(questions), spot.place.name if spot else None, position)
        if key not in self._offered:
            self._offered[key] = self._worked_out(target, outcome, questions, spot, position)
        return self._offered[key]

    def _worked_out(
        self, target: Plant, outcome: Outcome, questions: Sequence[Question], spot: Spot | None, position: Position
    ) -> Substitutes:
        """Candidates that law and likeness let through are tried in the order in which they would be offered, until there are enough."""
        of_law = self._of_law(tuple(questions))
        limit = weights().limit
        like = {each: distance_between(target.traits, facts.plant.traits).high for each, facts in of_law.items()}
        allowed = [each for each, facts in of_law.items() if facts.outcome in ("no-entry-found", "undetermined")]
        near = sorted((each for each in allowed if like[each] <= limit), key=lambda each: self._order(of_law[each].plant, like[each]))
        tried: dict[PlantId, CandidateFacts] = {}
        good = 0
        for plant_id in near:
            if good >= MOST:
                break
            facts = tried[plant_id] = self._at(of_law[plant_id], spot, position)
            good += facts.escape in ("low", "moderate") and facts.fits != "does-not-fit" and facts.outcome == "no-entry-found"
        passed_over = [facts for each, facts in of_law.items() if each not in near]
        return substitutes(target, [*passed_over, *tried.values()], self.region, target_outcome=outcome, most=MOST)

    def _order(self, plant: Plant, distance: float) -> tuple[bool, float, str]:
        native = plant.traits.native_north_america in ("yes", "part") and self.region in plant.traits.native_regions
        return not native, distance, plant.accepted_name

    def _of_law(self, questions: tuple[Question, ...]) -> Mapping[PlantId, CandidateFacts]:
        if questions not in self._law:
            candidates = [plant for plant in self.library.plants.values() if plant.catalogued and plant.rank not in _NOT_BOUGHT]
            self._law[questions] = {plant.plant_id: self._facts(plant, questions) for plant in candidates}
        return self._law[questions]

    def _facts(self, plant: Plant, questions: tuple[Question, ...]) -> CandidateFacts:
        naming = Naming("confirmed", (self.library.taxonomy.subject(plant.plant_id),))
        findings = [find_widest(self.library.law, naming, question) for question in questions]
        if not findings:
            return CandidateFacts(plant, "undetermined", "none", None, verified=False)
        strict = min(findings, key=lambda each: OUTCOMES.index(each.outcome))
        return CandidateFacts(
            plant,
            strict.outcome,
            min((each.coverage for each in findings), key=_COVERAGES.index),
            None,
            verified=all(each.verified for each in findings if each.outcome == strict.outcome),
        )

    def _at(self, facts: CandidateFacts, spot: Spot | None, position: Position) -> CandidateFacts:
        if spot is None:
            return facts
        found = fit(facts.plant, spot.place, position, spot.climate)
        escape: Assessment | None = spot.assess((facts.plant,)) if found.verdict != "does-not-fit" else None
        return CandidateFacts(
            facts.plant, facts.outcome, facts.coverage, escape.escape_class if escape else None, facts.verified, found.verdict
        )
