"""The escape of a planting as it is sent."""

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import BaseModel, Field

from service.escape import Assessment, EscapeClass, Interval, Stage, WaterAssessment
from service.output.models.law import _Model
from service.values.site import ExitRoute
from service.values.vocabulary import HowKnown

Numbers = Annotated[tuple[int, ...], Field(description="numbers of the sources, see ``sources``")]
Methods = Mapping[str, tuple[int, ...]]
"""Numbers of the sources by the text that a factor or figure cites."""


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


def chance_model(interval: Interval) -> ChanceModel:
    """An interval of chances, to six places."""
    return ChanceModel(low=round(interval.low, 6), high=round(interval.high, 6))


def escape_model(escape: Assessment, methods: Methods, explain: bool) -> EscapeModel:
    """The escape as it is sent; every factor of every stage with ``explain``."""
    unknowns = tuple(
        UnknownModel(fact=each.fact, question=each.question, narrows_by=round(each.narrows_by, 6))
        for each in escape.deciding_unknowns
    )
    return EscapeModel(
        plants=escape.candidates,
        interval=chance_model(escape.interval),
        escape_class=escape.escape_class,
        this_summer=chance_model(escape.this_summer),
        winter_persists=chance_model(escape.winter.persists),
        waters=tuple(_water(each, methods, explain) for each in escape.waters),
        deciding_unknowns=unknowns,
        paragraph=escape.paragraph,
        notes=escape.notes,
    )


def _water(water: WaterAssessment, methods: Methods, explain: bool) -> WaterEscapeModel:
    routes = tuple(
        RouteModel(
            route=each.route,
            released=chance_model(each.released),
            arrives=chance_model(each.arrives),
            propagule=each.propagule,
        )
        for each in water.routes
    )
    return WaterEscapeModel(
        water_id=water.water_id,
        name=water.name,
        relation=water.relation,
        distance_m=None if water.distance_m is None else round(water.distance_m, 1),
        interval=chance_model(water.interval),
        escape_class=water.escape_class,
        release=_stage(water.release, methods, explain),
        reach=_stage(water.reach, methods, explain),
        establish=_stage(water.establish, methods, explain),
        routes=routes,
    )


def _stage(stage: Stage, methods: Methods, explain: bool) -> StageModel:
    factors = tuple(
        FactorModel(
            name=each.name,
            value=each.value,
            unit=each.unit,
            interval=chance_model(each.interval),
            direction=each.direction,
            weight=round(each.weight, 6),
            how_known=each.how_known,
            citation=each.citation,
            sources=methods.get(each.citation, ()),
        )
        for each in (stage.factors if explain else ())
    )
    return StageModel(interval=chance_model(stage.interval), factors=factors)
