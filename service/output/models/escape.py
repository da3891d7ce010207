"""The escape of a planting as it is sent: the assessment, with chances to six places."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from service.escape import (
    AlreadyHere,
    Assessment,
    Comparison,
    Estimate,
    Factor,
    HeldAssessment,
    InputEffect,
    Interval,
    MeasureEffect,
    RouteChance,
    RouteShare,
    Sensitivity,
    Stage,
    Unknown,
    WaterAssessment,
)
from service.output.models.shape import Shape, usual


@dataclass(frozen=True, slots=True)
class Asked:
    """What the writing of a plan's answer goes by beside the answer.

    Attributes:
        methods: numbers of the sources by the text that a factor or figure cites.
        explain: with every factor of every stage.
    """

    methods: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    explain: bool = False


@dataclass(frozen=True, slots=True)
class AnswerChance:
    """What the chance would be with one answer to a question."""

    answer: str
    likely: float
    low: float
    high: float


def _answers(unknown: Unknown) -> tuple[AnswerChance, ...]:
    return tuple(
        AnswerChance(answer, chance.likely, chance.low, chance.high)
        for answer, chance in unknown.answers
    )


def _sources(factor: Factor, asked: Asked) -> tuple[int, ...]:
    """Numbers of the sources, see ``sources``."""
    return asked.methods.get(factor.citation, ())


def _factors(stage: Stage, asked: Asked) -> tuple[Factor, ...]:
    """The weightiest first, where explaining was asked for."""
    return stage.factors if asked.explain else ()


_SIX_PLACES = {"likely": 6, "low": 6, "high": 6}
_OF_ESTIMATE = "likely low high cannot_exclude"
_CLASS = {"escape_class": "class", "reaches": "may_reach"}

usual(
    Shape(
        Interval,
        name="Chance",
        about="A range of chances, shares of one.",
        places={"low": 6, "high": 6},
    ),
    Shape(Estimate, places=_SIX_PLACES),
    Shape(
        Factor,
        order="name value unit likely range direction weight how_known citation sources",
        rename={"interval": "range"},
        places={"likely": 6, "weight": 6},
        also={"sources": _sources},
    ),
    Shape(Stage, spread="estimate", also={"factors": _factors}),
    Shape(RouteChance, name="Route", kinds={"propagule": str | None}),
    Shape(
        WaterAssessment,
        name="WaterEscape",
        order=f"{_OF_ESTIMATE} ...",
        spread="estimate",
        rename=_CLASS,
        places={"distance_m": 1},
    ),
    Shape(AnswerChance, places=_SIX_PLACES),
    Shape(
        Unknown,
        order="fact question settles narrows_by answers",
        places={"narrows_by": 6},
        also={"answers": _answers},
    ),
    Shape(Comparison, places={"likely": 6, "times": 3}),
    Shape(RouteShare, places={"low": 4, "high": 4}),
    Shape(MeasureEffect, rename={"kind": "measure"}),
    Shape(AlreadyHere, places={"nearest_m": 1}),
    Shape(
        Assessment,
        name="Escape",
        order=f"{_OF_ESTIMATE} plants class may_reach native compared_with measures already_here "
        "this_summer winter_persists waters deciding_unknowns paragraph notes",
        without="winter datasets",
        spread="estimate",
        rename={**_CLASS, "candidates": "plants"},
        also={"winter_persists": "winter.persists"},
        notes={"winter_persists": "it lives through the ten winters, or comes back after them"},
    ),
    Shape(HeldAssessment, name="HeldEscape", spread="estimate", rename=_CLASS),
    Shape(InputEffect, name="Effect"),
    Shape(Sensitivity, order="samples mean standard_deviation effects", without="interval"),
)
