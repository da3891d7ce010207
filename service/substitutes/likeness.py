"""Distance between two plants, in the manner of Gower's general coefficient: a weighted mean over
what is known.

Gower 1971, A general coefficient of similarity and some of its properties, Biometrics 27:857-871
(from memory). Gower leaves out what is not known; here it counts as its whole range, so that the
distance is an interval.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from service.substitutes.parameters import Dimension, weights
from service.values.plants import Range, Traits


@dataclass(frozen=True, slots=True)
class Distance:
    """Low and high of the weighted distance, and the distance in each dimension, None where a
    trait is not known.
    """

    low: float
    high: float
    parts: Mapping[Dimension, float | None]


def distance_between(one: Traits, other: Traits) -> Distance:
    """How unlike two plants are; symmetric, 0 for equal traits all known."""
    parts = {dimension: measure(one, other) for dimension, measure in _MEASURES.items()}
    weight = weights().weights
    low = sum(weight[dimension] * part for dimension, part in parts.items() if part is not None)
    unknown = sum(weight[dimension] for dimension, part in parts.items() if part is None)
    return Distance(low, min(1.0, low + unknown), parts)


def _form(one: Traits, other: Traits) -> float | None:
    first, second = one.growth_form, other.growth_form
    if first is None or second is None:
        return None
    return 0.0 if first == second else weights().form.get(" ".join(sorted((first, second))), 1.0)


def _height(one: Traits, other: Traits) -> float | None:
    if one.height_cm is None or other.height_cm is None:
        return None
    scale = math.log(weights().height_factor)
    return _ends_apart(
        one.height_cm, other.height_cm, lambda a, b: abs(math.log((1 + a) / (1 + b))) / scale
    )


_ON_THE_SURFACE = frozenset({"free-floating", "floating-leaved"})


def _depth(one: Traits, other: Traits) -> float | None:
    forms = {one.growth_form, other.growth_form}
    # A floater has no depth of its own, so it is as deep as any plant of the surface.
    if "free-floating" in forms and forms <= _ON_THE_SURFACE:
        return 0.0
    if one.depth_cm is None or other.depth_cm is None:
        return None
    return _ends_apart(one.depth_cm, other.depth_cm, lambda a, b: abs(a - b) / weights().depth_cm)


def _season(one: Traits, other: Traits) -> float | None:
    """Whether both stand the winter alike: what frost does to them, and how cold they are grown."""
    frosts = {one.frost_kill, other.frost_kill}
    if frosts & {None, "unknown"} or one.zone_min is None or other.zone_min is None:
        return None
    zones = min(1.0, abs(one.zone_min - other.zone_min) / weights().zones)
    return ((len(frosts) > 1) + zones) / 2


def _jaccard(first: tuple[str, ...], second: tuple[str, ...]) -> float | None:
    """Jaccard distance of two sets of words."""
    if not first or not second:
        return None
    return 1 - len(set(first) & set(second)) / len(set(first) | set(second))


def _ends_apart(first: Range, second: Range, apart: Callable[[float, float], float]) -> float:
    """Mean distance of the two ends, at most 1."""
    return min(1.0, (apart(first.low, second.low) + apart(first.high, second.high)) / 2)


_MEASURES: Mapping[Dimension, Callable[[Traits, Traits], float | None]] = {
    "form": _form,
    "height": _height,
    "depth": _depth,
    "flow": lambda one, other: _jaccard(one.flow, other.flow),
    "light": lambda one, other: _jaccard(one.light, other.light),
    "season": _season,
    "use": lambda one, other: _jaccard(one.uses, other.uses),
}
