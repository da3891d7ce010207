"""The containment of a planting as it is sent."""

from typing import Literal

from pydantic import BaseModel

from service.containment import ContainmentPlan, Measure
from service.output.models.law import _Model
from service.output.models.plan_escape import Methods, Numbers
from service.values.quantities import Quantity
from service.values.site import ExitRoute
from service.values.vocabulary import MeasureKind, SpreadMode


class MissingModel(_Model):
    """A fact that nobody has given."""

    field: str
    fact: str
    needed_for: str
    look_up: str


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
    """A way of spreading by an exit route.

    ``stated`` is false where nobody has said whether the route is open.
    """

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
    verdict: Literal[
        "prohibited", "nothing-holds", "partly-held", "each-way-met", "no-way-out-stated"
    ]
    statement: str
    measures: tuple[MeasureModel, ...]
    unheld: tuple[WayOutModel, ...]
    missing: tuple[MissingModel, ...]
    disposal: DisposalModel | None


def containment_model(plan: ContainmentPlan, methods: Methods) -> ContainmentModel:
    """The containment of one plant as it is sent."""
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


def _measure(measure: Measure, methods: Methods) -> MeasureModel:
    def ways(strength: str) -> tuple[str, ...]:
        return tuple(
            f"{each.way_out.way} by {each.way_out.route}"
            for each in measure.held
            if each.strength == strength
        )

    figures = tuple(
        FigureModel(
            name=each.name,
            formula=each.formula,
            inputs=tuple(f"{given.name}: {given.quantity_text()}" for given in each.inputs),
            result=_quantity(each.result),
            sources=tuple(
                dict.fromkeys(number for text in each.sources for number in methods.get(text, ()))
            ),
        )
        for each in measure.figures
    )
    checks = tuple(
        CheckModel(
            name=each.name,
            found=_quantity(each.found),
            limit=_quantity(each.limit),
            passes=each.passes,
            if_not=each.if_not,
        )
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
    return QuantityModel(
        low=quantity.low, high=quantity.high, unit=quantity.unit, text=quantity.text()
    )
