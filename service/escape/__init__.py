"""Would a plant get out of a place, to which water, and establish there: release x reach x
establish.

Begin with ``assess`` for one plant, ``assess_many`` for a plan, ``assess_widest`` for a label that
may mean several plants. ``sensitivity`` shows what a result hangs on. Coefficients stand in
``parameters.toml``, how well the model does against facts from outside in ``docs/VALIDATION.md``.
"""

from service.escape.assessment import assess, assess_many, assess_widest, escape_class
from service.escape.interval import Interval, noisy_or, product, union
from service.escape.parameters import Parameters, default_parameters, read_parameters
from service.escape.sensitivity import InputEffect, Sensitivity, sensitivity
from service.escape.values import (
    ESCAPE_CLASSES,
    Assessment,
    EscapeClass,
    Factor,
    MeasureKind,
    PlannedMeasure,
    Propagule,
    RouteChance,
    Stage,
    Unknown,
    WaterAssessment,
    Winter,
)

__all__ = [
    "ESCAPE_CLASSES",
    "Assessment",
    "EscapeClass",
    "Factor",
    "InputEffect",
    "Interval",
    "MeasureKind",
    "Parameters",
    "PlannedMeasure",
    "Propagule",
    "RouteChance",
    "Sensitivity",
    "Stage",
    "Unknown",
    "WaterAssessment",
    "Winter",
    "assess",
    "assess_many",
    "assess_widest",
    "default_parameters",
    "escape_class",
    "noisy_or",
    "product",
    "read_parameters",
    "sensitivity",
    "union",
]
