"""The escape of a planting as it is sent."""

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import BaseModel, Field

from service.escape import (
    Assessment,
    EscapeClass,
    Estimate,
    HeldAssessment,
    Interval,
    Stage,
    Unknown,
    WaterAssessment,
)
from service.output.models.law import _Model
from service.values.site import EscapeRoute
from service.values.vocabulary import HowKnown, MeasureKind

Numbers = Annotated[tuple[int, ...], Field(description="numbers of the sources, see ``sources``")]
Methods = Mapping[str, tuple[int, ...]]
"""Numbers of the sources by the text that a factor or figure cites."""


Reaches = Annotated[
    EscapeClass | None,
    Field(description="the next class, where ``high`` comes up to it; null where it does not"),
]


class ChanceModel(BaseModel):
    """A range of chances, shares of one."""

    low: float
    high: float


class EstimateModel(BaseModel):
    """A chance, share of one: ``likely`` is the median over the samples, ``low`` and ``high`` the
    5th and 95th percentile, ``cannot_exclude`` every fact and coefficient at its mildest and at its
    worst.
    """

    likely: float
    low: float
    high: float
    cannot_exclude: ChanceModel


class FactorModel(BaseModel):
    """One thing that a stage rests on."""

    name: str
    value: str | float | bool | None
    unit: str
    likely: float
    range: ChanceModel
    direction: Literal["raises", "lowers"]
    weight: float
    how_known: HowKnown
    citation: str
    sources: Numbers


class StageModel(EstimateModel):
    """Leaves, arrives or would persist. The factors come with ``explain``."""

    factors: tuple[FactorModel, ...]


class RouteModel(BaseModel):
    """One way out toward one water."""

    route: EscapeRoute
    leaves: EstimateModel
    arrives: EstimateModel
    propagule: str | None


class WaterEscapeModel(EstimateModel):
    """Escape to one water: leaves x arrives x would persist."""

    water_id: str
    name: str
    relation: Literal["contains", "downstream", "upstream", "near"]
    distance_m: float | None
    escape_class: Annotated[EscapeClass, Field(serialization_alias="class")]
    may_reach: Reaches
    leaves: StageModel
    arrives: StageModel
    persists: StageModel
    routes: tuple[RouteModel, ...]


class AnswerChanceModel(BaseModel):
    """What the chance would be with one answer to a question."""

    answer: str
    likely: float
    low: float
    high: float


class UnknownModel(BaseModel):
    """A fact that would decide or narrow the chance of escape."""

    fact: str
    question: str
    settles: Annotated[bool, Field(description="the class depends on the answer")]
    narrows_by: float
    answers: tuple[AnswerChanceModel, ...]


class ComparisonModel(BaseModel):
    """A well-known plant at the same site, with nothing planned to keep it in."""

    accepted_name: str
    common_name: str
    likely: float
    times: Annotated[float | None, Field(description="how many times as likely as it the plant is")]
    words: str


class RouteShareModel(BaseModel):
    """What a measure takes from one route, as a share of what would leave by it."""

    route: EscapeRoute
    low: float
    high: float


class MeasureEffectModel(BaseModel):
    """What one measure takes away from each route open to the plant."""

    measure: MeasureKind
    routes: tuple[RouteShareModel, ...]
    words: str


class AlreadyHereModel(BaseModel):
    """Records of the plant around the site."""

    nearest_m: float | None
    latest_year: int | None
    records: int
    words: str


class EscapeModel(EstimateModel):
    """Would it get out, to which water, and found a lasting stand there, within ten years."""

    plants: tuple[str, ...]
    escape_class: Annotated[
        EscapeClass | None,
        Field(
            serialization_alias="class",
            description="by ``likely``; null for a plant native to the state of the site",
        ),
    ]
    may_reach: Reaches
    native: Annotated[
        str, Field(description="the sentence for a plant native to the state; empty for others")
    ]
    compared_with: tuple[ComparisonModel, ...]
    measures: tuple[MeasureEffectModel, ...]
    already_here: AlreadyHereModel | None
    this_summer: Annotated[EstimateModel, Field(description="with winter left out")]
    winter_persists: ChanceModel
    waters: tuple[WaterEscapeModel, ...]
    deciding_unknowns: tuple[UnknownModel, ...]
    paragraph: str
    notes: tuple[str, ...]


class HeldEscapeModel(EstimateModel):
    """The same with every designed measure that holds kept up."""

    escape_class: Annotated[EscapeClass | None, Field(serialization_alias="class")]
    may_reach: Reaches
    measures: tuple[MeasureEffectModel, ...]


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


def chance_model(interval: Interval) -> ChanceModel:
    """A range of chances, to six places."""
    return ChanceModel(low=round(interval.low, 6), high=round(interval.high, 6))


def estimate_model(estimate: Estimate) -> EstimateModel:
    """An estimate, to six places."""
    return EstimateModel(**_fields(estimate))


def _fields(estimate: Estimate) -> dict[str, Any]:
    return {
        "likely": round(estimate.likely, 6),
        "low": round(estimate.low, 6),
        "high": round(estimate.high, 6),
        "cannot_exclude": chance_model(estimate.cannot_exclude),
    }


def escape_model(escape: Assessment, methods: Methods, explain: bool) -> EscapeModel:
    """The escape as it is sent; every factor of every stage with ``explain``."""
    here = escape.already_here
    return EscapeModel(
        **_fields(escape.estimate),
        plants=escape.candidates,
        escape_class=escape.escape_class,
        may_reach=escape.reaches,
        native=escape.native,
        compared_with=tuple(
            ComparisonModel(
                accepted_name=beside.accepted_name,
                common_name=beside.common_name,
                likely=round(beside.likely, 6),
                times=None if beside.times is None else round(beside.times, 3),
                words=beside.words,
            )
            for beside in escape.compared_with
        ),
        measures=_measures(escape),
        already_here=None
        if here is None
        else AlreadyHereModel(
            nearest_m=None if here.nearest_m is None else round(here.nearest_m, 1),
            latest_year=here.latest_year,
            records=here.records,
            words=here.words,
        ),
        this_summer=estimate_model(escape.this_summer),
        winter_persists=chance_model(escape.winter.persists),
        waters=tuple(_water(water, methods, explain) for water in escape.waters),
        deciding_unknowns=tuple(_unknown(unknown) for unknown in escape.deciding_unknowns),
        paragraph=escape.paragraph,
        notes=escape.notes,
    )


def held_model(escape: HeldAssessment) -> HeldEscapeModel:
    """The escape with the measures kept up, in short."""
    return HeldEscapeModel(
        **_fields(escape.estimate),
        escape_class=escape.escape_class,
        may_reach=escape.reaches,
        measures=_measures(escape),
    )


def _unknown(unknown: Unknown) -> UnknownModel:
    return UnknownModel(
        fact=unknown.fact,
        question=unknown.question,
        settles=unknown.settles,
        narrows_by=round(unknown.narrows_by, 6),
        answers=tuple(
            AnswerChanceModel(
                answer=answer,
                likely=round(found.likely, 6),
                low=round(found.low, 6),
                high=round(found.high, 6),
            )
            for answer, found in unknown.answers
        ),
    )


def _measures(escape: Assessment | HeldAssessment) -> tuple[MeasureEffectModel, ...]:
    return tuple(
        MeasureEffectModel(
            measure=effect.kind,
            routes=tuple(
                RouteShareModel(
                    route=share.route, low=round(share.low, 4), high=round(share.high, 4)
                )
                for share in effect.routes
            ),
            words=effect.words,
        )
        for effect in escape.measures
    )


def _water(water: WaterAssessment, methods: Methods, explain: bool) -> WaterEscapeModel:
    routes = tuple(
        RouteModel(
            route=way.route,
            leaves=estimate_model(way.leaves),
            arrives=estimate_model(way.arrives),
            propagule=way.propagule,
        )
        for way in water.routes
    )
    return WaterEscapeModel(
        **_fields(water.estimate),
        water_id=water.water_id,
        name=water.name,
        relation=water.relation,
        distance_m=None if water.distance_m is None else round(water.distance_m, 1),
        escape_class=water.escape_class,
        may_reach=water.reaches,
        leaves=_stage(water.leaves, methods, explain),
        arrives=_stage(water.arrives, methods, explain),
        persists=_stage(water.persists, methods, explain),
        routes=routes,
    )


def _stage(stage: Stage, methods: Methods, explain: bool) -> StageModel:
    factors = tuple(
        FactorModel(
            name=factor.name,
            value=factor.value,
            unit=factor.unit,
            likely=round(factor.likely, 6),
            range=chance_model(factor.interval),
            direction=factor.direction,
            weight=round(factor.weight, 6),
            how_known=factor.how_known,
            citation=factor.citation,
            sources=methods.get(factor.citation, ()),
        )
        for factor in (stage.factors if explain else ())
    )
    return StageModel(**_fields(stage.estimate), factors=factors)
