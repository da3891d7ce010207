"""The shape of a plan check's answer. Made from the answer value, once, at the edge."""

from typing import Annotated, Literal

from pydantic import BaseModel, Field

from service.checks.plan.calendar import calendar_of
from service.checks.plan.values import (
    PlanAnswer,
    PlanFinding,
    PlanLane,
    PlantingAnswer,
    Role,
    Verdict,
)
from service.fit import Fit
from service.output.models.law import Answer, OwnRuleModel, ResolutionModel, _Model
from service.output.models.plan_containment import ContainmentModel, MissingModel, containment_model
from service.output.models.plan_escape import (
    EscapeModel,
    HeldEscapeModel,
    Methods,
    Numbers,
    SensitivityModel,
    escape_model,
    held_model,
)
from service.output.models.plan_lists import (
    ConfirmationModel,
    DecisionModel,
    NativityModel,
    NumberedSourceModel,
    ProblemModel,
    ShoppingListModel,
    TaskModel,
    UnsettledModel,
)
from service.output.models.plan_site import PlaceModel, SiteModel, place_model, site_model
from service.values.site import Holding, Soil
from service.values.vocabulary import Act, Coverage, HowKnown, MeasureKind, Outcome


class PlanFindingModel(BaseModel):
    """A finding; what it cites is in the numbered sources."""

    role: Annotated[
        Role,
        Field(
            description=(
                "the site's state, a neighbour within the border tolerance, or a state "
                "that its water reaches"
            )
        ),
    ]
    jurisdiction: str
    act: Act
    outcome: Outcome
    coverage: Coverage
    verified: bool
    reasons: tuple[str, ...]
    confirm_with: str
    own_rules: tuple[OwnRuleModel, ...]
    lists_searched: tuple[str, ...]
    sources: Numbers


class PlanLaneModel(BaseModel):
    """The way from the state that the plant is brought from."""

    origin: str
    destination: str
    outcome: Outcome
    verified: bool
    reasons: tuple[str, ...]
    permit_authorities: tuple[str, ...]
    sources: Numbers


class AspectModel(BaseModel):
    """One need of the plant against the planting."""

    name: str
    verdict: str
    found: str
    change: str | None
    how_known: HowKnown


class FitModel(BaseModel):
    """A planting against the needs of one plant that the label may mean."""

    plant_id: str
    verdict: Literal["fits", "fits-with-change", "does-not-fit", "unknown"]
    summary: str
    winter: Literal["hardy", "hardy-below-ice", "tender", "unknown"]
    autumn: str
    aspects: tuple[AspectModel, ...]
    missing: tuple[MissingModel, ...]


class SubstituteModel(_Model):
    """A plant to use instead: native, in trade, and with nothing against it in the same place."""

    plant_id: str
    accepted_name: str
    common_name: str
    why: str
    nativity: NativityModel
    tell_apart: Annotated[
        str, Field(description="how to tell it from a barred plant that it may be taken for")
    ]
    distance: Annotated[float, Field(description="0 alike, 1 unlike")]


class SubstitutesModel(_Model):
    """Plants to use instead, or why there is none."""

    plants: tuple[SubstituteModel, ...]
    reason: str
    left_out: tuple[tuple[str, int], ...]


class RecordRingModel(_Model):
    """Records within a radius, the smaller rings included; one plant in one square kilometre in
    one year counted once.
    """

    radius_m: float
    plant_records: int
    all_records: int
    latest_year: int | None


class RecordsModel(_Model):
    """What the loaded occurrence records say."""

    plant_id: str
    loaded: bool
    nearest_m: float | None
    rings: tuple[RecordRingModel, ...]
    first_year: int | None
    latest_year: int | None


class PlannedModel(_Model):
    """A measure that is planned."""

    kind: MeasureKind
    opening_mm: float | None


class PlantingModel(BaseModel):
    """One planting, answered."""

    number: int
    pointer: str
    label: str
    count: int | None
    place: str
    crown_depth_cm: float | None
    holding: Holding | None
    container_volume_l: float | None
    soil: Soil | None
    position: Annotated[tuple[float, float] | None, Field(description="longitude, latitude")]
    acts: tuple[Act, ...]
    brought_from: str | None
    planned: tuple[PlannedModel, ...]
    name: ResolutionModel
    outcome: Annotated[
        Outcome | None, Field(description="the strictest that counts; null where no state is known")
    ]
    verified: bool
    verdict: Annotated[
        Verdict,
        Field(
            description="nothing-against: nothing found against it, which is not leave to buy or "
            "plant it; with-care: conditions to meet; hold-back: barred, not clear, or not fit"
        ),
    ]
    conditions: Annotated[
        tuple[str, ...], Field(description="why it is held back, or what has to be met; sentences")
    ]
    nativity: NativityModel | None
    restricted_in: Annotated[
        tuple[str, ...],
        Field(description="jurisdictions that bar or limit selling or planting it"),
    ]
    findings: tuple[PlanFindingModel, ...]
    lane: PlanLaneModel | None
    fit: tuple[FitModel, ...]
    escape: EscapeModel | None
    escape_if_held: HeldEscapeModel | None
    sensitivity: SensitivityModel | None
    containment: tuple[ContainmentModel, ...]
    substitutes: SubstitutesModel | None
    records: tuple[RecordsModel, ...]
    cautions: tuple[str, ...]
    problems: tuple[ProblemModel, ...]
    sources: Numbers
    notes: tuple[str, ...]


class PlanCheckAnswer(Answer):
    """A plan, answered."""

    title: str
    prepared_for: str
    prepared_by: str
    note: str
    acts: tuple[Act, ...]
    site: SiteModel
    places: tuple[PlaceModel, ...]
    decisions: Annotated[
        tuple[DecisionModel, ...], Field(description="what to decide first, in order")
    ]
    ranking: Annotated[str, Field(description="how the decisions are put in order")]
    shopping_list: ShoppingListModel
    confirm: tuple[ConfirmationModel, ...]
    calendar: Annotated[
        tuple[TaskModel, ...],
        Field(description="what the plan asks for in the twelve months from its day"),
    ]
    unsettled: Annotated[
        tuple[UnsettledModel, ...],
        Field(description="facts that would narrow the answer, the most first"),
    ]
    plantings: tuple[PlantingModel, ...]
    sources: tuple[NumberedSourceModel, ...]
    problems: tuple[ProblemModel, ...]
    assumptions: tuple[str, ...]


def plan_model(answer: PlanAnswer, *, explain: bool = False) -> PlanCheckAnswer:
    """The answer as it is sent.

    Args:
        explain: with every factor of every stage.
    """
    return PlanCheckAnswer(
        store_build=answer.store_build,
        as_of=answer.as_of,
        cautions=answer.cautions,
        title=answer.title,
        prepared_for=answer.prepared_for,
        prepared_by=answer.prepared_by,
        note=answer.note,
        acts=answer.acts,
        site=site_model(answer.site),
        places=tuple(place_model(place) for place in answer.places),
        decisions=tuple(DecisionModel.model_validate(decision) for decision in answer.decisions),
        ranking=answer.ranking,
        shopping_list=ShoppingListModel.model_validate(answer.shopping),
        confirm=tuple(
            ConfirmationModel.model_validate(confirmation) for confirmation in answer.confirm
        ),
        calendar=tuple(TaskModel.model_validate(task) for task in calendar_of(answer)),
        unsettled=tuple(UnsettledModel.model_validate(question) for question in answer.unsettled),
        plantings=tuple(
            _planting(planting, answer.methods, explain) for planting in answer.plantings
        ),
        sources=tuple(NumberedSourceModel.model_validate(source) for source in answer.sources),
        problems=tuple(ProblemModel.model_validate(problem) for problem in answer.problems),
        assumptions=answer.assumptions,
    )


def _planting(answer: PlantingAnswer, methods: Methods, explain: bool) -> PlantingModel:
    contained = answer.escape_held
    return PlantingModel(
        number=answer.number,
        pointer=answer.pointer,
        label=answer.label,
        count=answer.count,
        place=answer.place,
        crown_depth_cm=answer.position.crown_depth_cm,
        holding=answer.position.holding,
        container_volume_l=answer.position.container_volume_l,
        soil=answer.position.soil,
        position=answer.position_on_map,
        acts=answer.acts,
        brought_from=answer.brought_from,
        planned=tuple(PlannedModel.model_validate(measure) for measure in answer.planned),
        name=ResolutionModel.model_validate(answer.resolution),
        outcome=answer.outcome,
        verified=answer.verified,
        verdict=answer.verdict,
        conditions=answer.conditions,
        nativity=NativityModel.model_validate(answer.nativity) if answer.nativity else None,
        restricted_in=answer.restricted_in,
        findings=tuple(_finding(finding) for finding in answer.findings),
        lane=_lane(answer.lane) if answer.lane else None,
        fit=tuple(_fit(fit) for fit in answer.fits),
        escape=escape_model(answer.escape, methods, explain) if answer.escape else None,
        escape_if_held=held_model(contained) if contained else None,
        sensitivity=SensitivityModel.model_validate(answer.sensitivity)
        if answer.sensitivity
        else None,
        containment=tuple(containment_model(plan, methods) for plan in answer.containment),
        substitutes=SubstitutesModel.model_validate(answer.substitutes)
        if answer.substitutes
        else None,
        records=tuple(RecordsModel.model_validate(evidence) for evidence in answer.evidence),
        cautions=tuple(dict.fromkeys(caution.text for caution in answer.cautions)),
        problems=tuple(ProblemModel.model_validate(problem) for problem in answer.problems),
        sources=answer.sources,
        notes=answer.notes,
    )


def _finding(planned: PlanFinding) -> PlanFindingModel:
    finding = planned.finding
    return PlanFindingModel(
        role=planned.role,
        jurisdiction=finding.jurisdiction,
        act=finding.act,
        outcome=finding.outcome,
        coverage=finding.coverage,
        verified=finding.verified,
        reasons=finding.reasons,
        confirm_with=finding.confirm_with,
        own_rules=tuple(OwnRuleModel.model_validate(rule) for rule in finding.own_rules),
        lists_searched=finding.lists_searched,
        sources=planned.sources,
    )


def _lane(planned: PlanLane) -> PlanLaneModel:
    lane = planned.lane
    return PlanLaneModel(
        origin=lane.origin,
        destination=lane.destination,
        outcome=lane.outcome,
        verified=lane.verified,
        reasons=lane.reasons,
        permit_authorities=lane.permit_authorities,
        sources=tuple(sorted({number for step in planned.sources for number in step})),
    )


def _fit(fit: Fit) -> FitModel:
    aspects = tuple(
        AspectModel(
            name=aspect.name,
            verdict=aspect.verdict,
            found=aspect.found,
            change=aspect.change.text if aspect.change else None,
            how_known=aspect.known.how_known,
        )
        for aspect in fit.aspects
    )
    missing = tuple(MissingModel.model_validate(missing_fact) for missing_fact in fit.missing)
    return FitModel(
        plant_id=fit.plant_id,
        verdict=fit.verdict,
        summary=fit.summary,
        winter=fit.winter,
        autumn=fit.autumn,
        aspects=aspects,
        missing=missing,
    )
