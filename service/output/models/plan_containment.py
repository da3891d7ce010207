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
    """A figure compared with a limit."""

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
    """How one plant is contained in its place, or disposed of."""

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
        measures=tuple(_measure(measure, methods) for measure in plan.measures),
        unheld=tuple(WayOutModel.model_validate(way_out) for way_out in plan.unheld),
        missing=tuple(MissingModel.model_validate(missing_fact) for missing_fact in plan.missing),
        disposal=DisposalModel.model_validate(plan.disposal) if plan.disposal else None,
    )


def _measure(measure: Measure, methods: Methods) -> MeasureModel:
    def ways(strength: str) -> tuple[str, ...]:
        return tuple(
            f"{way.way_out.way} by {way.way_out.route}"
            for way in measure.held
            if way.strength == strength
        )

    figures = tuple(
        FigureModel(
            name=figure.name,
            formula=figure.formula,
            inputs=tuple(f"{given.name}: {given.quantity_text()}" for given in figure.inputs),
            result=_quantity(figure.result),
            sources=tuple(
                dict.fromkeys(number for text in figure.sources for number in methods.get(text, ()))
            ),
        )
        for figure in measure.figures
    )
    checks = tuple(
        CheckModel(
            name=check.name,
            found=_quantity(check.found),
            limit=_quantity(check.limit),
            passes=check.passes,
            if_not=check.if_not,
        )
        for check in measure.checks
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
        missing=tuple(
            MissingModel.model_validate(missing_fact) for missing_fact in measure.missing
        ),
    )


def _quantity(quantity: Quantity) -> QuantityModel:
    return QuantityModel(
        low=quantity.low, high=quantity.high, unit=quantity.unit, text=quantity.text()
    )
