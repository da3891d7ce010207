"""Would a plant get out of a place, to which water, and found a lasting stand there: leaves x
arrives x would persist.

Begin with ``assess`` for one plant, ``assess_many`` for a plan, ``assess_widest`` for a label that
may mean several plants. ``sensitivity`` shows what a result hangs on, ``measure_effects`` what a
way of keeping the plant in takes from each route. Coefficients are in ``parameters.toml``; how well
the model does against facts from outside is in ``docs/VALIDATION.md``.
"""

from service.escape.assessment import Assessor, assess, assess_many, assess_widest
from service.escape.classes import class_of, class_reached, escape_class
from service.escape.combining import any_estimate, covering, widest
from service.escape.comparing import WELL_KNOWN
from service.escape.interval import Interval, noisy_or, product, union
from service.escape.measuring import measure_effects
from service.escape.parameters import Parameters, default_parameters, read_parameters
from service.escape.screening import SiteChances, screen
from service.escape.sensitivity import InputEffect, Sensitivity, sensitivity
from service.escape.values import (
    ESCAPE_CLASSES,
    AlreadyHere,
    Assessment,
    Comparison,
    EscapeClass,
    Estimate,
    Factor,
    HeldAssessment,
    MeasureEffect,
    PlannedMeasure,
    Propagule,
    RouteChance,
    RouteShare,
    ScreenedEscape,
    ScreenedWater,
    Stage,
    Unknown,
    WaterAssessment,
    Winter,
)

__all__ = [
    "ESCAPE_CLASSES",
    "WELL_KNOWN",
    "AlreadyHere",
    "Assessment",
    "Assessor",
    "Comparison",
    "EscapeClass",
    "Estimate",
    "Factor",
    "HeldAssessment",
    "InputEffect",
    "Interval",
    "MeasureEffect",
    "Parameters",
    "PlannedMeasure",
    "Propagule",
    "RouteChance",
    "RouteShare",
    "ScreenedEscape",
    "ScreenedWater",
    "Sensitivity",
    "SiteChances",
    "Stage",
    "Unknown",
    "WaterAssessment",
    "Winter",
    "any_estimate",
    "assess",
    "assess_many",
    "assess_widest",
    "class_of",
    "class_reached",
    "covering",
    "default_parameters",
    "escape_class",
    "measure_effects",
    "noisy_or",
    "product",
    "read_parameters",
    "screen",
    "sensitivity",
    "union",
    "widest",
]
