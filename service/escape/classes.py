"""The class of a chance."""

from service.escape.parameters import Parameters, default_parameters
from service.escape.values import ESCAPE_CLASSES, EscapeClass, Estimate


def class_of(chance: float, parameters: Parameters | None = None) -> EscapeClass:
    """Low, moderate or high.

    >>> class_of(0.05), class_of(0.2), class_of(0.7)
    ('low', 'moderate', 'high')
    """
    known = parameters or default_parameters()
    if chance >= known.value("classes.high_from"):
        return "high"
    return "moderate" if chance >= known.value("classes.moderate_from") else "low"


def escape_class(estimate: Estimate, parameters: Parameters | None = None) -> EscapeClass:
    """By the likely chance."""
    return class_of(estimate.likely, parameters)


def class_reached(estimate: Estimate, parameters: Parameters | None = None) -> EscapeClass | None:
    """The next class, where ``high`` comes up to it; None where it does not."""
    own = class_of(estimate.likely, parameters)
    most = class_of(estimate.high, parameters)
    if own == most:
        return None
    return ESCAPE_CLASSES[ESCAPE_CLASSES.index(own) + 1]
