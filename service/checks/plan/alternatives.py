"""What instead: candidates of the catalogue with the facts of this site, worked out only as far
as they are needed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from service.checks.label import findings_of
from service.checks.plan.located import Spot
from service.fit import fit
from service.regulation.finding import Question
from service.regulation.widest import Naming
from service.store.library import Library
from service.substitutes import CandidateFacts, Substitutes, distance_between, substitutes
from service.substitutes.parameters import weights
from service.values.plants import Plant
from service.values.site import Position
from service.values.vocabulary import OUTCOMES, Coverage, Outcome, PlantId, Rank

_NOT_BOUGHT: frozenset[Rank] = frozenset({"family", "genus"})
_COVERAGES: tuple[Coverage, ...] = ("none", "partial", "complete")
MOST = 5


@dataclass
class SubstituteDesk:
    """Keeps what the plantings of one plan share: the law on each candidate, and its escape from
    each place.
    """

    library: Library
    region: str | None
    _law: dict[tuple[Question, ...], Mapping[PlantId, CandidateFacts]] = field(default_factory=dict)
    _offered: dict[tuple[object, ...], Substitutes] = field(default_factory=dict)

    def offer(
        self,
        target: Plant,
        outcome: Outcome,
        questions: Sequence[Question],
        spot: Spot | None,
        position: Position,
    ) -> Substitutes:
        """Plants to use instead of one, in the same position."""
        key = (
            target.plant_id,
            outcome,
            tuple(questions),
            spot.place.name if spot else None,
            position,
        )
        if key not in self._offered:
            self._offered[key] = self._worked_out(target, outcome, questions, spot, position)
        return self._offered[key]

    def _worked_out(
        self,
        target: Plant,
        outcome: Outcome,
        questions: Sequence[Question],
        spot: Spot | None,
        position: Position,
    ) -> Substitutes:
        """Candidates that law and likeness let through are tried in the order in which they
        would be offered, until there are enough.
        """
        of_law = self._of_law(tuple(questions))
        limit = weights().limit
        like = {
            each: distance_between(target.traits, facts.plant.traits).high
            for each, facts in of_law.items()
            if facts.outcome in ("no-entry-found", "undetermined")
            and _of_like_form(target, facts.plant)
        }
        near = sorted(
            (each for each in like if like[each] <= limit),
            key=lambda each: self._order(of_law[each].plant, like[each]),
        )
        tried: dict[PlantId, CandidateFacts] = {}
        for first in range(0, len(near), MOST):
            if sum(_is_good(facts) for facts in tried.values()) >= MOST:
                break
            tried |= self._at([of_law[each] for each in near[first : first + MOST]], spot, position)
        passed_over = [
            facts for each, facts in of_law.items() if each not in like or like[each] > limit
        ]
        return substitutes(
            target, [*passed_over, *tried.values()], self.region, target_outcome=outcome, most=MOST
        )

    def _order(self, plant: Plant, distance: float) -> tuple[bool, float, str]:
        native = (
            plant.traits.native_north_america in ("yes", "part")
            and self.region in plant.traits.native_regions
        )
        return not native, distance, plant.accepted_name

    def _of_law(self, questions: tuple[Question, ...]) -> Mapping[PlantId, CandidateFacts]:
        if questions not in self._law:
            candidates = [
                plant
                for plant in self.library.plants.values()
                if plant.catalogued and plant.rank not in _NOT_BOUGHT
            ]
            self._law[questions] = {
                plant.plant_id: self._facts(plant, questions) for plant in candidates
            }
        return self._law[questions]

    def _facts(self, plant: Plant, questions: tuple[Question, ...]) -> CandidateFacts:
        naming = Naming("confirmed", (self.library.taxonomy.subject(plant.plant_id),))
        findings = findings_of(self.library, naming, questions)
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

    def _at(
        self, candidates: Sequence[CandidateFacts], spot: Spot | None, position: Position
    ) -> dict[PlantId, CandidateFacts]:
        """Some candidates with fit and escape in the place; escape only of those that would live
        there.
        """
        if spot is None:
            return {facts.plant.plant_id: facts for facts in candidates}
        fits = {
            facts.plant.plant_id: fit(facts.plant, spot.place, position, spot.climate).verdict
            for facts in candidates
        }
        living = [
            facts.plant for facts in candidates if fits[facts.plant.plant_id] != "does-not-fit"
        ]
        escapes = {
            plant.plant_id: each.escape_class
            for plant, each in zip(living, spot.assess_each(living), strict=True)
        }
        return {
            facts.plant.plant_id: replace(
                facts, escape=escapes.get(facts.plant.plant_id), fits=fits[facts.plant.plant_id]
            )
            for facts in candidates
        }


def _is_good(facts: CandidateFacts) -> bool:
    return (
        facts.escape in ("low", "moderate")
        and facts.fits != "does-not-fit"
        and facts.outcome == "no-entry-found"
    )


def _of_like_form(target: Plant, other: Plant) -> bool:
    """Whether the growth forms are near enough to go on comparing; the ranking itself has the
    last word.
    """
    first, second = target.traits.growth_form, other.traits.growth_form
    if first is None or second is None:
        return False
    return (
        first == second
        or weights().form.get(" ".join(sorted((first, second))), 1.0) <= weights().form_limit
    )
