"""One planting: name, law, fit, escape, containment, what instead, cautions."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from service.cautions import Caution, cautions_for
from service.checks.label import findings_of
from service.checks.plan.law import (
    barring_duty,
    is_answered,
    lane_of,
    questions_of,
    restricted,
    strictest_of,
)
from service.checks.plan.meanings import meanings_of, nativity_of
from service.checks.plan.place import PlaceContext
from service.checks.plan.request import Planting
from service.checks.plan.sources import SourceNumbers
from service.checks.plan.substitutes import SubstituteFinder
from service.checks.plan.values import (
    Ground,
    LonLat,
    PlanFinding,
    PlanLane,
    PlantingAnswer,
    Problem,
    Role,
    SiteAnswer,
)
from service.checks.plan.verdict import PlantingFacts, counts, grounds_of
from service.containment import ContainmentPlan, ContainmentRequest, design
from service.errors import BadRequest
from service.escape import Assessment, HeldAssessment, PlannedMeasure, Sensitivity, sensitivity
from service.escape.harms import harms_of
from service.fit import Fit, fit
from service.geography.geodesy import inside
from service.names import Candidate, Resolution
from service.regulation.finding import Finding, Question, find
from service.regulation.for_name import Naming
from service.store.library import Library
from service.values.evidence import Evidence
from service.values.plants import Plant
from service.values.vocabulary import Act, MeasureKind, PlantId

_VESSELS = ("no-drain-tub", "solid-pot", "foam-island", "floating-ring")
"""Measures of which a planting takes one."""


@dataclass(frozen=True, slots=True)
class PlanContext:
    """What all plantings of a plan are worked out with."""

    library: Library
    site: SiteAnswer
    on: date
    acts: tuple[Act, ...]
    numbers: SourceNumbers
    substitutes: SubstituteFinder
    explain: bool
    problems: list[Problem]


def answer_planting(
    context: PlanContext,
    planting: Planting,
    resolution: Resolution,
    place: PlaceContext | None,
    spacing: Sequence[Ground] = (),
) -> PlantingAnswer:
    """The answer for one planting. Where its place is not known, only name and law are answered.

    Args:
        spacing: grounds of the place as a whole that concern this planting.
    """
    library = context.library
    naming = library.naming(resolution)
    plants = plants_of(library, resolution)
    acts = planting.acts or context.acts
    asked = questions_of(context.site, acts, context.on)
    found = findings_of(library, naming, [question for _, question in asked])
    findings = tuple(
        _finding(context, planting, role, finding)
        for (role, _), finding in zip(asked, found, strict=True)
        if is_answered(role, finding)
    )
    lane = _lane(context, planting, naming)
    own = [question for role, question in asked if role in ("site", "supply")]
    by_plant = {
        plant.plant_id: _found_of_one(context, naming, index, own)
        for index, plant in enumerate(plants)
    }
    barred = {plant_id: barring_duty(found) for plant_id, found in by_plant.items()}
    here = (
        _in_place(context, planting, plants, place, barred)
        if place is not None and plants
        else _InPlace()
    )
    nativity = nativity_of(plants, context.site.locality.state)
    native = nativity is not None and nativity.status == "native"
    escapes = here.escape is None or here.escape.escape_class != "low"
    counting = [
        finding.finding for finding in findings if counts(finding, native=native, escapes=escapes)
    ]
    outcome, verified = strictest_of(counting, lane.lane if lane else None)
    answer = PlantingAnswer(
        number=planting.number,
        pointer=planting.pointer,
        label=planting.label,
        count=planting.count,
        place=planting.place or "",
        position=planting.position,
        position_on_map=_on_map(planting, place, context.site),
        acts=acts,
        brought_from=planting.brought_from,
        planned=planting.planned,
        design=planting.design,
        resolution=resolution,
        plants=plants,
        findings=findings,
        lane=lane,
        outcome=outcome,
        verified=verified,
        fits=here.fits,
        escape=here.escape,
        escape_held=here.held,
        sensitivity=here.effects,
        containment=here.containment,
        substitutes=None,
        cautions=_cautions(plants, here.containment, planting.planned),
        evidence=here.evidence,
        nativity=nativity,
        restricted_in=restricted(library, naming, context.on),
        harms=harms_of(plants),
        problems=planting.problems,
        notes=tuple(_notes(planting, resolution, here.fits, context.site)),
    )
    classes_alone = (
        place.classes(plants) if place is not None and plants and not resolution.confirmed else ()
    )
    state = context.site.locality.state
    meanings = (
        ()
        if resolution.confirmed
        else meanings_of(plants, by_plant, here.fits, classes_alone, state)
    )
    facts = PlantingFacts(
        resolution,
        plants,
        planting.position,
        findings,
        lane,
        here.fits,
        here.escape,
        answer.worst_containment,
        answer.native,
        answer.restricted_in,
    )
    found_state = context.site.location.state
    more = (*spacing, *_unread(planting))
    grounds = grounds_of(facts, context.site.locality, found_state, meanings, more)
    answer = replace(answer, grounds=grounds)
    if not answer.passes and plants:
        questions = [question for role, question in asked if role in ("site", "neighbour")]
        offered = context.substitutes.offer(plants[0], questions, place, planting.position)
        answer = replace(answer, substitutes=offered)
    return replace(answer, sources=_cited(context.numbers, answer))


@dataclass(frozen=True, slots=True)
class _InPlace:
    """What is worked out of a planting in its place."""

    fits: tuple[Fit, ...] = ()
    evidence: tuple[Evidence, ...] = ()
    escape: Assessment | None = None
    held: HeldAssessment | None = None
    effects: Sensitivity | None = None
    containment: tuple[ContainmentPlan, ...] = ()


def plants_of(library: Library, resolution: Resolution) -> tuple[Plant, ...]:
    """The plants that a label may mean."""
    return tuple(plant_of(library, candidate) for candidate in resolution.candidates)


def plant_of(library: Library, candidate: Candidate) -> Plant:
    """The plant of a candidate; one without traits where only an imported taxonomy knows it."""
    catalogued = library.plants.get(candidate.plant_id)
    return catalogued or Plant(
        candidate.plant_id,
        candidate.accepted_name,
        candidate.rank,
        candidate.genus,
        catalogued=False,
    )


def _finding(context: PlanContext, planting: Planting, role: Role, finding: Finding) -> PlanFinding:
    return PlanFinding(role, finding, context.numbers.of_finding(finding, planting.number))


def _lane(context: PlanContext, planting: Planting, naming: Naming) -> PlanLane | None:
    lane = lane_of(context.library, naming, planting, context.site.locality, context.on)
    return PlanLane(lane, context.numbers.of_lane(lane, planting.number)) if lane else None


def _found_of_one(
    context: PlanContext, naming: Naming, index: int, questions: Sequence[Question]
) -> list[Finding]:
    """What the law of the site says of one plant of the label, as if it were the one meant."""
    return [find(context.library.law, naming.subjects[index], question) for question in questions]


def _in_place(
    context: PlanContext,
    planting: Planting,
    plants: tuple[Plant, ...],
    place: PlaceContext,
    barred: Mapping[PlantId, str | None],
) -> _InPlace:
    records = place.evidence_of(plants)
    containment = _contained(context, planting, plants, place, barred)
    effects = None
    if context.explain:
        first = plants[0]
        of_first = records.get(first.plant_id)
        effects = sensitivity(
            first,
            place.place,
            place.climate,
            place.waters,
            of_first,
            state=place.state,
            containment=planting.planned,
        )
    return _InPlace(
        fits=tuple(fit(plant, place.place, planting.position, place.climate) for plant in plants),
        evidence=tuple(records.values()),
        escape=place.assess(plants, planting.planned),
        held=_if_held(plants, planting, place, containment),
        effects=effects,
        containment=containment,
    )


def _contained(
    context: PlanContext,
    planting: Planting,
    plants: Sequence[Plant],
    place: PlaceContext,
    barred: Mapping[PlantId, str | None],
) -> tuple[ContainmentPlan, ...]:
    plans = []
    for plant in plants:
        duty = barred[plant.plant_id]
        asked: ContainmentRequest = replace(
            planting.design, prohibited=duty is not None, duty=duty or ""
        )
        try:
            plans.append(design(plant, place.place, planting.position, place.climate, asked))
        except BadRequest as error:
            at = planting.at(f"design{error.pointer}")
            context.problems.append(
                Problem(
                    at,
                    f"{error.detail} No containment is worked out for {planting.label!r}.",
                    error.next_step,
                )
            )
            return ()
    return tuple(plans)


def _if_held(
    plants: Sequence[Plant],
    planting: Planting,
    place: PlaceContext,
    containment: Sequence[ContainmentPlan],
) -> HeldAssessment | None:
    """The escape with every designed measure that holds kept up: of pots, tubs, islands and
    rings the one that holds most.
    """
    if not containment or any(
        plan.verdict in ("prohibited", "nothing-holds") for plan in containment
    ):
        return None
    common = set.intersection(*(_holding(plan) for plan in containment))
    ordered = [measure.kind for measure in containment[0].measures if measure.kind in common]
    planned = {measure.kind for measure in planting.planned}
    standing = [] if planned & set(_VESSELS) else [kind for kind in ordered if kind in _VESSELS][:1]
    added = [
        PlannedMeasure(kind)
        for kind in ordered
        if kind not in planned and (kind in standing or kind not in _VESSELS)
    ]
    return place.held(plants, (*planting.planned, *added)) if added else None


def _holding(plan: ContainmentPlan) -> set[MeasureKind]:
    return {
        measure.kind
        for measure in plan.measures
        if any(way.strength == "holds" for way in measure.held)
    }


def _cautions(
    plants: Sequence[Plant],
    containment: Sequence[ContainmentPlan],
    planned: Sequence[PlannedMeasure],
) -> tuple[Caution, ...]:
    measures = [measure.kind for plan in containment for measure in plan.measures] + [
        measure.kind for measure in planned
    ]
    of_plants = [caution for plant in plants for caution in cautions_for(plant=plant)]
    return tuple(
        dict.fromkeys([*of_plants, *cautions_for(measures=tuple(dict.fromkeys(measures)))])
    )


def _notes(
    planting: Planting, resolution: Resolution, fits: Sequence[Fit], site: SiteAnswer
) -> Iterable[str]:
    yield from dict.fromkeys(advice for fit in fits for advice in fit.advice)
    if not resolution.candidates:
        yield "No plant is known by the label, so nothing but that is answered."
    elif planting.place is None:
        yield f"{planting.place_note} Fit, escape and containment are worked out for a place alone."
    if site.locality.state is None:
        yield "The state is not known, so no law was looked up."
    elif planting.brought_from is not None and planting.brought_from == site.locality.state:
        yield "It is brought from within the state, so no state line is crossed."


def _unread(planting: Planting) -> Iterable[Ground]:
    """Facts that the law would be asked with and that could not be read: without them the answer
    could be milder than it should.
    """
    consequences = {
        "brought_from": "say from which state it is brought: the way in was not looked up.",
        "acts": "say what is to be done with it: the acts of the plan were asked instead.",
    }
    for field, text in consequences.items():
        if any(
            f'"{field}"' in problem.pointer or f"/{field}" in problem.pointer
            for problem in planting.problems
        ):
            yield Ground("unread", False, f"Mend {field} in the plan and {text}")


def _on_map(planting: Planting, place: PlaceContext | None, site: SiteAnswer) -> LonLat | None:
    if planting.shape is not None:
        return inside(planting.shape)
    return place.position if place is not None and place.position is not None else site.position


def _cited(sources: SourceNumbers, answer: PlantingAnswer) -> tuple[int, ...]:
    """Every source of the planting, numbered in the order of the answer."""
    numbers = [number for finding in answer.findings for number in finding.sources]
    numbers += [number for step in (answer.lane.sources if answer.lane else ()) for number in step]
    for plant in answer.plants:
        numbers += sources.of_plant(plant, answer.number)
    if answer.escape is not None:
        numbers += [
            sources.of_dataset(dataset, answer.number) for dataset in answer.escape.datasets
        ]
        numbers += sources.of_assessment(answer.escape, answer.number)
    for plan in answer.containment:
        numbers += sources.of_containment(plan, answer.number)
    return tuple(sorted(set(numbers)))
