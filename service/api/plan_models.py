"""The shape of a plan check's answer. Made from the answer value, once, at the edge."""

from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field

from service.api.models import Answer, ResolutionModel, _Model
from service.containment import ContainmentPlan, Measure, MeasureKind
from service.escape import Assessment, EscapeClass, Interval, Stage, WaterAssessment
from service.fit import Fit
from service.quantities import Quantity
from service.screening.plan_geometry import geojson
from service.screening.plan_values import (
    DecisionKind,
    PlaceAnswer,
    PlanAnswer,
    PlanFinding,
    PlanLane,
    PlantingAnswer,
    Role,
    SiteAnswer,
    SiteFact,
    SourceKind,
)
from service.site import ExitRoute, Holding, PlaceKind, Soil
from service.vocabulary import Act, Coverage, Flow, HowKnown, Light, Outcome, SpreadMode, WaterKind
from service.waters import Reached

Numbers = Annotated[tuple[int, ...], Field(description="numbers of the sources, see ``sources``")]
Geometry = Annotated[dict[str, Any] | None, Field(description="GeoJSON geometry")]


class ProblemModel(_Model):
    """A part of the document that could not be used; the rest is answered."""

    pointer: Annotated[str, Field(description="JSON pointer (RFC 6901), or the row of a table")]
    detail: str
    next_step: str


class FactModel(BaseModel):
    """One fact of the site, and how it is known."""

    key: str
    title: str
    text: str
    how_known: Annotated[HowKnown | None, Field(description="null where it is not known")]
    known_from: str
    would_narrow: Annotated[str, Field(description="the fact to give so that the answer gets narrower")]
    sources: Numbers


class ReachedWaterModel(BaseModel):
    """A water as a place can reach it."""

    water_id: str
    name: str
    kind: WaterKind
    flow: Flow
    states: tuple[str, ...]
    relation: Literal["contains", "downstream", "upstream", "near"]
    overland_m: float
    along_m: Annotated[float | None, Field(description="along the flow network")]
    lakes_passed: int


class SiteModel(BaseModel):
    """What was found of the site."""

    position: Annotated[tuple[float, float] | None, Field(description="longitude, latitude")]
    geometry: Geometry
    state: str | None
    county: str | None
    county_name: str
    neighbours: Annotated[tuple[str, ...], Field(description="states within the border tolerance, answered as well")]
    downstream_states: Annotated[tuple[str, ...], Field(description="states down the water, answered for release")]
    hardiness_zones: tuple[str, ...]
    extreme_minimum_c: tuple[float, float] | None
    first_frost: str | None
    watershed: str | None
    region: str | None
    facts: tuple[FactModel, ...]
    waters: tuple[ReachedWaterModel, ...]
    notes: tuple[str, ...]


class PlaceModel(BaseModel):
    """A pond, stream or bog of the plan; null is what nobody has said."""

    pointer: str
    name: str
    kind: PlaceKind
    area_m2: float | None
    depth_cm: float | None
    flow: Flow | None
    light: Light | None
    outlet: bool | None
    outlet_flow_l_s: float | None
    overflow: bool | None
    flood_prone: bool | None
    bank_contact: bool | None
    lined: bool | None
    visited: bool | None
    grazing_fish: bool | None
    freezing_depth_cm: float | None
    geometry: Geometry
    waters: tuple[ReachedWaterModel, ...]
    cautions: tuple[str, ...]


class PlanFindingModel(BaseModel):
    """A finding; what it cites stands in the numbered sources."""

    role: Annotated[Role, Field(description="the site's state, a neighbour within the border tolerance, or a state that its water reaches")]
    jurisdiction: str
    act: Act
    outcome: Outcome
    coverage: Coverage
    verified: bool
    reasons: tuple[str, ...]
    confirm_with: str
    own_rules: tuple[str, ...]
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


class MissingModel(_Model):
    """A fact that nobody has given."""

    field: str
    fact: str
    needed_for: str
    look_up: str


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


class ChanceModel(BaseModel):
    """A chance as a closed interval; its class is by the upper end."""

    low: float
    high: float


class FactorModel(BaseModel):
    """One thing that a stage rests on."""

    name: str
    value: str | float | bool | None
    unit: str
    interval: ChanceModel
    direction: Literal["raises", "lowers"]
    weight: float
    how_known: HowKnown
    citation: str
    sources: Numbers


class StageModel(BaseModel):
    """Release, reach or establish. The factors come with ``explain``."""

    interval: ChanceModel
    factors: tuple[FactorModel, ...]


class RouteModel(BaseModel):
    """One way out toward one water."""

    route: ExitRoute
    released: ChanceModel
    arrives: ChanceModel
    propagule: str | None


class WaterEscapeModel(BaseModel):
    """Escape to one water."""

    water_id: str
    name: str
    relation: Literal["contains", "downstream", "upstream", "near"]
    distance_m: float | None
    interval: ChanceModel
    escape_class: Annotated[EscapeClass, Field(serialization_alias="class")]
    release: StageModel
    reach: StageModel
    establish: StageModel
    routes: tuple[RouteModel, ...]


class UnknownModel(BaseModel):
    """A fact that would narrow the chance of escape."""

    fact: str
    question: str
    narrows_by: float


class EscapeModel(BaseModel):
    """Would it get out, to which water, and establish there, within ten years."""

    plants: tuple[str, ...]
    interval: ChanceModel
    escape_class: Annotated[EscapeClass, Field(serialization_alias="class")]
    this_summer: ChanceModel
    winter_persists: ChanceModel
    waters: tuple[WaterEscapeModel, ...]
    deciding_unknowns: tuple[UnknownModel, ...]
    paragraph: str
    notes: tuple[str, ...]


class HeldEscapeModel(BaseModel):
    """The same with every designed measure that holds kept up."""

    interval: ChanceModel
    escape_class: Annotated[EscapeClass, Field(serialization_alias="class")]


class EffectModel(_Model):
    """What one input does to the chance of escape. ``total`` is the total Sobol index."""

    name: str
    low: float
    high: float
    narrows_by: float
    first_order: float
    first_order_half_width: float
    total: float
    total_half_width: float


class SensitivityModel(_Model):
    """What the chance of escape hangs on, the weightiest input first."""

    samples: int
    mean: float
    standard_deviation: float
    effects: tuple[EffectModel, ...]


class QuantityModel(BaseModel):
    """A quantity in SI units, and in words with US customary units beside."""

    low: float
    high: float
    unit: str
    text: str


class FigureModel(BaseModel):
    """A worked figure."""

    name: str
    formula: str
    inputs: tuple[str, ...]
    result: QuantityModel
    sources: Numbers


class CheckModel(BaseModel):
    """A figure held against a limit."""

    name: str
    found: QuantityModel
    limit: QuantityModel
    passes: bool
    if_not: str


class MeasureModel(BaseModel):
    """One measure, worked out as far as the given facts go."""

    kind: MeasureKind
    title: str
    holds: tuple[str, ...]
    slows: tuple[str, ...]
    limits: tuple[str, ...]
    passes: bool | None
    figures: tuple[FigureModel, ...]
    checks: tuple[CheckModel, ...]
    steps: tuple[str, ...]
    missing: tuple[MissingModel, ...]


class WayOutModel(_Model):
    """A way of spreading by an exit route. ``stated`` is false where nobody has said whether the route is open."""

    way: SpreadMode
    route: ExitRoute
    stated: bool


class DisposalModel(_Model):
    """What to do with a plant that the law prohibits."""

    duty: str
    steps: tuple[str, ...]
    reporting: tuple[str, ...]


class ContainmentModel(BaseModel):
    """How one plant is held in its place, or disposed of."""

    plant_id: str
    place: str
    verdict: Literal["prohibited", "nothing-holds", "partly-held", "each-way-met", "no-way-out-stated"]
    statement: str
    measures: tuple[MeasureModel, ...]
    unheld: tuple[WayOutModel, ...]
    missing: tuple[MissingModel, ...]
    disposal: DisposalModel | None


class SubstituteModel(_Model):
    """A plant to use instead."""

    plant_id: str
    accepted_name: str
    distance_low: float
    distance_high: float
    native_here: bool | None
    outcome: Outcome
    coverage: Coverage
    escape: EscapeClass | None
    alike: tuple[str, ...]
    differs: tuple[str, ...]
    unknown: tuple[str, ...]
    rests_on: tuple[str, ...]
    settled: bool


class SubstitutesModel(_Model):
    """Plants to use instead."""

    region: str | None
    statement: str
    offered: tuple[SubstituteModel, ...]
    unsettled: tuple[SubstituteModel, ...]
    left_out: tuple[tuple[str, int], ...]


class RingModel(_Model):
    """Records within a radius, the smaller rings included."""

    radius_m: float
    plant_records: int
    all_records: int


class RecordsModel(_Model):
    """What the loaded occurrence records say."""

    plant_id: str
    loaded: bool
    nearest_m: float | None
    rings: tuple[RingModel, ...]
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
    outcome: Annotated[Outcome | None, Field(description="the strictest that counts; null where no state is known")]
    verified: bool
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
    passes: bool
    held_back: tuple[str, ...]
    sources: Numbers
    notes: tuple[str, ...]


class DecisionModel(_Model):
    """Something to decide before money is spent."""

    rank: int
    kind: DecisionKind
    title: str
    why: str
    plantings: tuple[int, ...]
    ask: str
    sources: Numbers


class ShoppingLineModel(_Model):
    """A planting that passes, and what that rests on."""

    planting: int
    name: str
    label: str
    count: int | None
    place: str
    conditions: tuple[str, ...]


class HeldBackModel(_Model):
    """A planting that does not pass."""

    planting: int
    name: str
    reasons: tuple[str, ...]


class ShoppingListModel(_Model):
    """What passes and what does not."""

    passes_means: str
    lines: tuple[ShoppingLineModel, ...]
    held_back: tuple[HeldBackModel, ...]


class ConfirmationModel(_Model):
    """Whom to ask about what."""

    whom: str
    about: tuple[str, ...]
    plantings: tuple[int, ...]


class UnsettledModel(_Model):
    """A fact that nobody has given."""

    fact: str
    of: str
    question: str
    why: str
    look_up: str
    plantings: tuple[int, ...]


class SourceModel(_Model):
    """A numbered source."""

    number: int
    kind: SourceKind
    title: str
    citation: str
    how_known: HowKnown
    url: str
    authority: str
    jurisdiction: str | None
    list_id: str
    class_name: Annotated[str, Field(serialization_alias="class")]
    name_as_listed: str
    exceptions: str
    area: str
    condition: str
    effective_from: date | None
    read_copy_date: str
    licence: str
    used_by: Annotated[tuple[int, ...], Field(description="numbers of the plantings that refer to it")]


class PlanCheckAnswer(Answer):
    """A plan, answered."""

    title: str
    prepared_for: str
    prepared_by: str
    note: str
    acts: tuple[Act, ...]
    site: SiteModel
    places: tuple[PlaceModel, ...]
    decisions: Annotated[tuple[DecisionModel, ...], Field(description="what to decide first, in order")]
    ranking: Annotated[str, Field(description="how the decisions are put in order")]
    shopping_list: ShoppingListModel
    confirm: tuple[ConfirmationModel, ...]
    unsettled: Annotated[tuple[UnsettledModel, ...], Field(description="facts that would narrow the answer, the most first")]
    plantings: tuple[PlantingModel, ...]
    sources: tuple[SourceModel, ...]
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
        site=_site(answer.site),
        places=tuple(_place(each) for each in answer.places),
        decisions=tuple(DecisionModel.model_validate(each) for each in answer.decisions),
        ranking=answer.ranking,
        shopping_list=ShoppingListModel.model_validate(answer.shopping),
        confirm=tuple(ConfirmationModel.model_validate(each) for each in answer.confirm),
        unsettled=tuple(UnsettledModel.model_validate(each) for each in answer.unsettled),
        plantings=tuple(_planting(each, answer.methods, explain) for each in answer.plantings),
        sources=tuple(SourceModel.model_validate(each) for each in answer.sources),
        problems=tuple(ProblemModel.model_validate(each) for each in answer.problems),
        assumptions=answer.assumptions,
    )


def inlined_schema(model: type[BaseModel]) -> dict[str, Any]:
    """The JSON schema of a request with every part in its place, so that it stands alone in the contract."""
    schema = model.model_json_schema()
    parts = schema.pop("$defs", {})

    def inlined(node: Any) -> Any:
        if isinstance(node, list):
            return [inlined(each) for each in node]
        if not isinstance(node, dict):
            return node
        reference = node.get("$ref")
        if isinstance(reference, str) and reference.startswith("#/$defs/"):
            beside = {key: inlined(value) for key, value in node.items() if key != "$ref"}
            return {**inlined(parts[reference.removeprefix("#/$defs/")]), **beside}
        return {key: value if key in ("examples", "default") else inlined(value) for key, value in node.items()}

    found: dict[str, Any] = inlined(schema)
    return found


_Methods = Mapping[str, tuple[int, ...]]


def _site(site: SiteAnswer) -> SiteModel:
    watershed = site.location.watershed
    return SiteModel(
        position=site.position,
        geometry=geojson(site.shape),
        state=site.locality.state,
        county=site.locality.county,
        county_name=site.locality.county_name,
        neighbours=site.neighbours,
        downstream_states=site.downstream_states,
        hardiness_zones=site.location.zones,
        extreme_minimum_c=site.climate.extreme_minimum_c,
        first_frost=site.climate.first_frost,
        watershed=watershed.watershed_id if watershed else None,
        region=site.region,
        facts=tuple(_fact(each) for each in site.facts),
        waters=tuple(_reached(each.reached) for each in site.waters),
        notes=site.notes,
    )


def _fact(fact: SiteFact) -> FactModel:
    known = fact.known
    return FactModel(
        key=fact.key,
        title=fact.title,
        text=fact.text,
        how_known=known.how_known if known else None,
        known_from=known.source if known else "",
        would_narrow=fact.would_narrow,
        sources=fact.sources,
    )


def _reached(reached: Reached) -> ReachedWaterModel:
    water = reached.water
    return ReachedWaterModel(
        water_id=water.water_id,
        name=water.name,
        kind=water.kind,
        flow=water.flow,
        states=water.states,
        relation=reached.relation,
        overland_m=round(reached.overland_m, 1),
        along_m=None if reached.along_m is None else round(reached.along_m, 1),
        lakes_passed=reached.lakes_passed,
    )


def _place(answer: PlaceAnswer) -> PlaceModel:
    place = answer.place
    facts = {name: getattr(place, name) for name in PlaceModel.model_fields if hasattr(place, name)}
    return PlaceModel(
        **facts,
        pointer=answer.pointer,
        geometry=geojson(answer.shape),
        waters=tuple(_reached(each) for each in answer.waters),
        cautions=tuple(each.text for each in answer.cautions),
    )


def _planting(answer: PlantingAnswer, methods: _Methods, explain: bool) -> PlantingModel:
    held = answer.escape_held
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
        planned=tuple(PlannedModel.model_validate(each) for each in answer.planned),
        name=ResolutionModel.model_validate(answer.resolution),
        outcome=answer.outcome,
        verified=answer.verified,
        findings=tuple(_finding(each) for each in answer.findings),
        lane=_lane(answer.lane) if answer.lane else None,
        fit=tuple(_fit(each) for each in answer.fits),
        escape=_escape(answer.escape, methods, explain) if answer.escape else None,
        escape_if_held=HeldEscapeModel(interval=_chance(held.interval), escape_class=held.escape_class) if held else None,
        sensitivity=SensitivityModel.model_validate(answer.sensitivity) if answer.sensitivity else None,
        containment=tuple(_containment(each, methods) for each in answer.containment),
        substitutes=SubstitutesModel.model_validate(answer.substitutes) if answer.substitutes else None,
        records=tuple(RecordsModel.model_validate(each) for each in answer.evidence),
        cautions=tuple(dict.fromkeys(each.text for each in answer.cautions)),
        passes=answer.passes,
        held_back=answer.held_back,
        sources=answer.sources,
        notes=answer.notes,
    )


def _finding(each: PlanFinding) -> PlanFindingModel:
    finding = each.finding
    return PlanFindingModel(
        role=each.role,
        jurisdiction=finding.jurisdiction,
        act=finding.act,
        outcome=finding.outcome,
        coverage=finding.coverage,
        verified=finding.verified,
        reasons=finding.reasons,
        confirm_with=finding.confirm_with,
        own_rules=tuple(f"{rule.title}: {rule.outcome}. {rule.reason}" for rule in finding.own_rules),
        lists_searched=finding.lists_searched,
        sources=each.sources,
    )


def _lane(each: PlanLane) -> PlanLaneModel:
    lane = each.lane
    return PlanLaneModel(
        origin=lane.origin,
        destination=lane.destination,
        outcome=lane.outcome,
        verified=lane.verified,
        reasons=lane.reasons,
        permit_authorities=lane.permit_authorities,
        sources=tuple(sorted({number for step in each.sources for number in step})),
    )


def _fit(fit: Fit) -> FitModel:
    aspects = tuple(
        AspectModel(
            name=each.name,
            verdict=each.verdict,
            found=each.found,
            change=each.change.text if each.change else None,
            how_known=each.known.how_known,
        )
        for each in fit.aspects
    )
    missing = tuple(MissingModel.model_validate(each) for each in fit.missing)
    return FitModel(
        plant_id=fit.plant_id,
        verdict=fit.verdict,
        summary=fit.summary,
        winter=fit.winter,
        autumn=fit.autumn,
        aspects=aspects,
        missing=missing,
    )


def _chance(interval: Interval) -> ChanceModel:
    return ChanceModel(low=round(interval.low, 6), high=round(interval.high, 6))


def _escape(escape: Assessment, methods: _Methods, explain: bool) -> EscapeModel:
    unknowns = tuple(
        UnknownModel(fact=each.fact, question=each.question, narrows_by=round(each.narrows_by, 6)) for each in escape.deciding_unknowns
    )
    return EscapeModel(
        plants=escape.candidates,
        interval=_chance(escape.interval),
        escape_class=escape.escape_class,
        this_summer=_chance(escape.this_summer),
        winter_persists=_chance(escape.winter.persists),
        waters=tuple(_water(each, methods, explain) for each in escape.waters),
        deciding_unknowns=unknowns,
        paragraph=escape.paragraph,
        notes=escape.notes,
    )


def _water(water: WaterAssessment, methods: _Methods, explain: bool) -> WaterEscapeModel:
    routes = tuple(
        RouteModel(route=each.route, released=_chance(each.released), arrives=_chance(each.arrives), propagule=each.propagule)
        for each in water.routes
    )
    return WaterEscapeModel(
        water_id=water.water_id,
        name=water.name,
        relation=water.relation,
        distance_m=None if water.distance_m is None else round(water.distance_m, 1),
        interval=_chance(water.interval),
        escape_class=water.escape_class,
        release=_stage(water.release, methods, explain),
        reach=_stage(water.reach, methods, explain),
        establish=_stage(water.establish, methods, explain),
        routes=routes,
    )


def _stage(stage: Stage, methods: _Methods, explain: bool) -> StageModel:
    factors = tuple(
        FactorModel(
            name=each.name,
            value=each.value,
            unit=each.unit,
            interval=_chance(each.interval),
            direction=each.direction,
            weight=round(each.weight, 6),
            how_known=each.how_known,
            citation=each.citation,
            sources=methods.get(each.citation, ()),
        )
        for each in (stage.factors if explain else ())
    )
    return StageModel(interval=_chance(stage.interval), factors=factors)


def _containment(plan: ContainmentPlan, methods: _Methods) -> ContainmentModel:
    return ContainmentModel(
        plant_id=plan.plant_id,
        place=plan.place,
        verdict=plan.verdict,
        statement=plan.statement,
        measures=tuple(_measure(each, methods) for each in plan.measures),
        unheld=tuple(WayOutModel.model_validate(each) for each in plan.unheld),
        missing=tuple(MissingModel.model_validate(each) for each in plan.missing),
        disposal=DisposalModel.model_validate(plan.disposal) if plan.disposal else None,
    )


def _measure(measure: Measure, methods: _Methods) -> MeasureModel:
    def ways(strength: str) -> tuple[str, ...]:
        return tuple(f"{each.way_out.way} by {each.way_out.route}" for each in measure.held if each.strength == strength)

    figures = tuple(
        FigureModel(
            name=each.name,
            formula=each.formula,
            inputs=tuple(f"{given.name}: {given.quantity_text()}" for given in each.inputs),
            result=_quantity(each.result),
            sources=tuple(dict.fromkeys(number for text in each.sources for number in methods.get(text, ()))),
        )
        for each in measure.figures
    )
    checks = tuple(
        CheckModel(name=each.name, found=_quantity(each.found), limit=_quantity(each.limit), passes=each.passes, if_not=each.if_not)
        for each in measure.checks
    )
    return MeasureModel(
        kind=measure.kind,
        title=measure.title,
        holds=ways("holds"),
        slows=ways("slows"),
        limits=measure.limits,
        passes=measure.passes,
        figures=figures,
        checks=checks,
        steps=measure.steps,
        missing=tuple(MissingModel.model_validate(each) for each in measure.missing),
    )


def _quantity(quantity: Quantity) -> QuantityModel:
    return QuantityModel(low=quantity.low, high=quantity.high, unit=quantity.unit, text=quantity.text())
