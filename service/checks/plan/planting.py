"""One planting: name, law, fit, escape, containment, what instead, cautions."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from service.cautions import Caution, cautions_for
from service.checks.label import findings_of
from service.checks.plan.alternatives import SubstituteDesk
from service.checks.plan.located import Spot
from service.checks.plan.passing import bears, reasons_held_back
from service.checks.plan.request import Planting
from service.checks.plan.sources import Ledger
from service.checks.plan.values import (
    LonLat,
    PlanFinding,
    PlanLane,
    PlantingAnswer,
    Problem,
    Role,
    SiteAnswer,
)
from service.containment import ContainmentPlan, ContainmentRequest, design
from service.errors import BadRequest
from service.escape import Assessment, MeasureKind, PlannedMeasure, Sensitivity, sensitivity
from service.fit import Fit, fit
from service.geography.shapes import inside
from service.names import Candidate, Resolution
from service.regulation.finding import Finding, Question, find
from service.regulation.shipping import Lane, ship
from service.regulation.widest import Naming
from service.store.library import Library
from service.values.evidence import Evidence
from service.values.plants import Plant
from service.values.vocabulary import OUTCOMES, Act, CountyFips, Jurisdiction, Outcome, PlantId

_HANDS_OFF: frozenset[Act] = frozenset({"release", "export"})
"""Acts whose bar alone leaves the plant where it may stand contained."""
_STANDS_IN = ("no-drain-tub", "solid-pot", "foam-island", "floating-ring")
"""Measures of which a planting takes one."""


@dataclass(frozen=True, slots=True)
class Bench:
    """What all plantings of a plan are worked out with."""

    library: Library
    site: SiteAnswer
    on: date
    acts: tuple[Act, ...]
    ledger: Ledger
    substitutes: SubstituteDesk
    explain: bool
    problems: list[Problem]


def answer_planting(
    bench: Bench, planting: Planting, resolution: Resolution, spot: Spot | None
) -> PlantingAnswer:
    """The answer for one planting. Where its place is not known, only name and law are answered."""
    library = bench.library
    naming = library.naming(resolution)
    plants = tuple(plant_of(library, candidate) for candidate in resolution.candidates)
    acts = planting.acts or bench.acts
    asked = questions_of(bench.site, acts, bench.on)
    found = findings_of(library, naming, [question for _, question in asked])
    findings = tuple(
        _finding(bench, planting, role, finding)
        for (role, _), finding in zip(asked, found, strict=True)
    )
    lane = _lane(bench, planting, naming)
    notes = list(_notes(planting, resolution, bench.site))
    own = [
        question for role, question in asked if role == "site" and question.act not in _HANDS_OFF
    ]
    barred = {
        plant.plant_id: _barred(bench, naming, index, own) for index, plant in enumerate(plants)
    }
    here = (
        _in_place(bench, planting, plants, spot, barred)
        if spot is not None and plants
        else _InPlace()
    )
    counting = [
        each.finding for each in findings if each.role != "water" or bears(each, here.escape)
    ]
    outcome, verified = strictest_of(counting, lane.lane if lane else None)
    answer = PlantingAnswer(
        number=planting.number,
        pointer=planting.pointer,
        label=planting.label,
        count=planting.count,
        place=planting.place or "",
        position=planting.position,
        position_on_map=_on_map(planting, spot, bench.site),
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
        held_back=(),
        notes=tuple(notes),
    )
    answer = replace(answer, held_back=reasons_held_back(answer, bench.site.region))
    if answer.held_back and plants:
        questions = [question for role, question in asked if role != "water"]
        offered = bench.substitutes.offer(
            plants[0], outcome or "undetermined", questions, spot, planting.position
        )
        answer = replace(answer, substitutes=offered)
    return replace(answer, sources=_cited(bench.ledger, answer))


@dataclass(frozen=True, slots=True)
class _InPlace:
    """What is worked out of a planting in its place."""

    fits: tuple[Fit, ...] = ()
    evidence: tuple[Evidence, ...] = ()
    escape: Assessment | None = None
    held: Assessment | None = None
    effects: Sensitivity | None = None
    containment: tuple[ContainmentPlan, ...] = ()


def plant_of(library: Library, candidate: Candidate) -> Plant:
    """The plant of a candidate; one without traits where only an imported taxonomy knows it."""
    held = library.plants.get(candidate.plant_id)
    return held or Plant(
        candidate.plant_id,
        candidate.accepted_name,
        candidate.rank,
        candidate.genus,
        catalogued=False,
    )


def questions_of(
    site: SiteAnswer, acts: Sequence[Act], on: date
) -> tuple[tuple[Role, Question], ...]:
    """What is asked of the law: the acts in the site's state and in its neighbours, release
    wherever its water can go.
    """
    return tuple(
        law_questions(
            site.locality.state,
            site.locality.county,
            site.neighbours,
            site.downstream_states,
            acts,
            on,
        )
    )


def law_questions(
    state: Jurisdiction | None,
    county: CountyFips | None,
    neighbours: Sequence[Jurisdiction],
    downstream: Sequence[Jurisdiction],
    acts: Sequence[Act],
    on: date,
) -> Iterable[tuple[Role, Question]]:
    """The same from the bare facts of a site."""
    if state is None:
        return
    yield from (("site", Question(state, act, on, county)) for act in acts)
    yield from (("neighbour", Question(each, act, on)) for each in neighbours for act in acts)
    if "release" not in acts:
        yield "water", Question(state, "release", on, county)
    yield from (
        ("water", Question(each, "release", on))
        for each in downstream
        if "release" not in acts or each not in neighbours
    )


def _finding(bench: Bench, planting: Planting, role: Role, finding: Finding) -> PlanFinding:
    return PlanFinding(role, finding, bench.ledger.of_finding(finding, planting.number))


def _lane(bench: Bench, planting: Planting, naming: Naming) -> PlanLane | None:
    locality = bench.site.locality
    if planting.brought_from is None or locality.state is None:
        return None
    lane = ship(
        bench.library.law, naming, planting.brought_from, locality.state, bench.on, locality.county
    )
    return PlanLane(lane, bench.ledger.of_lane(lane, planting.number))


def strictest_of(findings: Sequence[Finding], lane: Lane | None) -> tuple[Outcome | None, bool]:
    """The strictest outcome; and whether it was read: a bar needs one finding that was, silence
    needs all.
    """
    found = [(each.outcome, each.verified) for each in findings] + (
        [(lane.outcome, lane.verified)] if lane else []
    )
    if not found:
        return None, False
    outcome = min((each for each, _ in found), key=OUTCOMES.index)
    if outcome in ("no-entry-found", "listed-other-acts"):
        return outcome, all(verified for _, verified in found)
    return outcome, any(verified for each, verified in found if each == outcome)


def _barred(bench: Bench, naming: Naming, index: int, questions: Sequence[Question]) -> str | None:
    """The duty that the law lays on one plant of the label, in words, where it bars an act asked
    about; None where it bars none.
    """
    findings = [find(bench.library.law, naming.subjects[index], question) for question in questions]
    barring = [each for each in findings if each.outcome == "prohibited"]
    if not barring:
        return None
    duties = dict.fromkeys(
        f"{citation.duty} ({citation.title}, {citation.class_name})"
        for each in barring
        for citation in each.citations
        if citation.outcome == "prohibited" and citation.duty in ("control", "eradicate", "report")
    )
    return "; ".join(duties)


def _in_place(
    bench: Bench,
    planting: Planting,
    plants: tuple[Plant, ...],
    spot: Spot,
    barred: Mapping[PlantId, str | None],
) -> _InPlace:
    records = spot.evidence_of(plants)
    containment = _contained(bench, planting, plants, spot, barred)
    effects = None
    if bench.explain:
        first = plants[0]
        of_first = records.get(first.plant_id)
        effects = sensitivity(
            first, spot.place, spot.climate, spot.waters, of_first, containment=planting.planned
        )
    return _InPlace(
        fits=tuple(fit(plant, spot.place, planting.position, spot.climate) for plant in plants),
        evidence=tuple(records.values()),
        escape=spot.assess(plants, planting.planned),
        held=_if_held(plants, planting, spot, containment),
        effects=effects,
        containment=containment,
    )


def _contained(
    bench: Bench,
    planting: Planting,
    plants: Sequence[Plant],
    spot: Spot,
    barred: Mapping[PlantId, str | None],
) -> tuple[ContainmentPlan, ...]:
    plans = []
    for plant in plants:
        duty = barred[plant.plant_id]
        asked: ContainmentRequest = replace(
            planting.design, prohibited=duty is not None, duty=duty or ""
        )
        try:
            plans.append(design(plant, spot.place, planting.position, spot.climate, asked))
        except BadRequest as error:
            at = f"{planting.pointer}/design{error.pointer}"
            bench.problems.append(
                Problem(
                    at,
                    f"{error.detail} No containment is worked out for {planting.label!r}.",
                    error.next_step,
                )
            )
            return ()
    return tuple(plans)


def _if_held(
    plants: Sequence[Plant], planting: Planting, spot: Spot, containment: Sequence[ContainmentPlan]
) -> Assessment | None:
    """The escape with every designed measure that holds kept up: of pots, tubs, islands and
    rings the one that holds most.
    """
    if not containment or any(
        plan.verdict in ("prohibited", "nothing-holds") for plan in containment
    ):
        return None
    common = set.intersection(*(_holding(plan) for plan in containment))
    ordered = [measure.kind for measure in containment[0].measures if measure.kind in common]
    planned = {each.kind for each in planting.planned}
    standing = (
        [] if planned & set(_STANDS_IN) else [kind for kind in ordered if kind in _STANDS_IN][:1]
    )
    added = [
        PlannedMeasure(kind)
        for kind in ordered
        if kind not in planned and (kind in standing or kind not in _STANDS_IN)
    ]
    return spot.assess(plants, (*planting.planned, *added)) if added else None


def _holding(plan: ContainmentPlan) -> set[MeasureKind]:
    return {
        measure.kind
        for measure in plan.measures
        if any(held.strength == "holds" for held in measure.held)
    }


def _cautions(
    plants: Sequence[Plant],
    containment: Sequence[ContainmentPlan],
    planned: Sequence[PlannedMeasure],
) -> tuple[Caution, ...]:
    measures = [measure.kind for plan in containment for measure in plan.measures] + [
        each.kind for each in planned
    ]
    of_plants = [caution for plant in plants for caution in cautions_for(plant=plant)]
    return tuple(
        dict.fromkeys([*of_plants, *cautions_for(measures=tuple(dict.fromkeys(measures)))])
    )


def _notes(planting: Planting, resolution: Resolution, site: SiteAnswer) -> Iterable[str]:
    if not resolution.candidates:
        yield "No plant is known by the label, so nothing but that is answered."
    elif planting.place is None:
        yield f"{planting.place_note} Fit, escape and containment are worked out for a place alone."
    if site.locality.state is None:
        yield "The state is not known, so no law was looked up."
    elif planting.brought_from is not None and planting.brought_from == site.locality.state:
        yield "It is brought from within the state, so no state line is crossed."


def _on_map(planting: Planting, spot: Spot | None, site: SiteAnswer) -> LonLat | None:
    if planting.shape is not None:
        return inside(planting.shape)
    return spot.position if spot is not None and spot.position is not None else site.position


def _cited(ledger: Ledger, answer: PlantingAnswer) -> tuple[int, ...]:
    """Every source of the planting, numbered in the order of the answer."""
    numbers = [number for each in answer.findings for number in each.sources]
    numbers += [number for step in (answer.lane.sources if answer.lane else ()) for number in step]
    for plant in answer.plants:
        numbers += ledger.of_plant(plant, answer.number)
    if answer.escape is not None:
        numbers += [ledger.of_dataset(dataset, answer.number) for dataset in answer.escape.datasets]
        numbers += ledger.of_assessment(answer.escape, answer.number)
    for plan in answer.containment:
        numbers += ledger.of_containment(plan, answer.number)
    return tuple(sorted(set(numbers)))
