"""Distance between two plants, in the manner of Gower's general coefficient: a weighted mean over what is known.

Gower 1971, A general coefficient of similarity and some of its properties, Biometrics 27:857-871 (from memory). Gower
leaves out what is not known; here it counts as its whole range, so that the distance is an interval.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from service.plants import Range, Traits
from service.quantities import Quantity
from service.substitutes.parameters import Dimension, weights

_ALIKE = 0.2


@dataclass(frozen=True, slots=True)
class Part:
    """One dimension: distance 0 to 1, or None where a trait of either plant is not known; and both traits in words."""

    dimension: Dimension
    distance: float | None
    words: str

    @property
    def alike(self) -> bool:
        return self.distance is not None and self.distance <= _ALIKE


@dataclass(frozen=True, slots=True)
class Distance:
    """Low and high of the weighted distance, and its parts."""

    low: float
    high: float
    parts: tuple[Part, ...]


def distance_between(one: Traits, other: Traits) -> Distance:
    """How unlike two plants are; symmetric, 0 for equal traits all known."""
    parts = tuple(measure(one, other) for measure in _MEASURES)
    weight = weights().weights
    low = sum(weight[part.dimension] * (part.distance or 0.0) for part in parts)
    unknown = sum(weight[part.dimension] for part in parts if part.distance is None)
    return Distance(low, min(1.0, low + unknown), parts)


def _form(one: Traits, other: Traits) -> Part:
    first, second = one.growth_form, other.growth_form
    if first is None or second is None:
        return Part("form", None, "growth form not known")
    if first == second:
        return Part("form", 0.0, f"{first} growth")
    pair = " ".join(sorted((first, second)))
    return Part("form", weights().form.get(pair, 1.0), f"{second} instead of {first}")


def _height(one: Traits, other: Traits) -> Part:
    first, second = one.height_cm, other.height_cm
    if first is None or second is None:
        return Part("height", None, "height not known")
    scale = math.log(weights().height_factor)
    ends = [abs(math.log((1 + a) / (1 + b))) / scale for a, b in zip(_ends(first), _ends(second), strict=True)]
    return Part("height", min(1.0, sum(ends) / 2), _ranges("height", first, second))


def _depth(one: Traits, other: Traits) -> Part:
    if one.growth_form == other.growth_form == "free-floating":
        return Part("depth", 0.0, "both float at any depth")
    first, second = one.depth_cm, other.depth_cm
    if first is None or second is None:
        return Part("depth", None, "depth of water not known")
    ends = [abs(a - b) / weights().depth_cm for a, b in zip(_ends(first), _ends(second), strict=True)]
    return Part("depth", min(1.0, sum(ends) / 2), _ranges("depth", first, second))


def _flow(one: Traits, other: Traits) -> Part:
    return _sets("flow", "water", one.flow, other.flow)


def _light(one: Traits, other: Traits) -> Part:
    return _sets("light", "light", one.light, other.light)


def _season(one: Traits, other: Traits) -> Part:
    """Whether both stand the winter alike: what frost does to them, and how cold they are grown."""
    known = [one.frost_kill, other.frost_kill]
    if None in known or "unknown" in known or one.zone_min is None or other.zone_min is None:
        return Part("season", None, "winter habit not known")
    frost = 0.0 if one.frost_kill == other.frost_kill else 1.0
    zones = min(1.0, abs(one.zone_min - other.zone_min) / weights().zones)
    return Part("season", (frost + zones) / 2, f"grown from zone {other.zone_min} instead of {one.zone_min}")


def _use(one: Traits, other: Traits) -> Part:
    return _sets("use", "use", one.uses, other.uses)


_MEASURES: tuple[Callable[[Traits, Traits], Part], ...] = (_form, _height, _depth, _flow, _light, _season, _use)


def _sets(dimension: Dimension, noun: str, first: tuple[str, ...], second: tuple[str, ...]) -> Part:
    """Jaccard distance of two sets of words."""
    if not first or not second:
        return Part(dimension, None, f"{noun} not known")
    shared, either = set(first) & set(second), set(first) | set(second)
    distance = 1 - len(shared) / len(either)
    if distance <= _ALIKE:
        return Part(dimension, distance, f"{noun}: {', '.join(sorted(shared))}")
    return Part(dimension, distance, f"{noun}: {', '.join(sorted(set(second)))} instead of {', '.join(sorted(set(first)))}")


def _ends(values: Range) -> tuple[float, float]:
    return values.low, values.high


def _ranges(noun: str, first: Range, second: Range) -> str:
    one = Quantity(first.low, first.high, "cm").text()
    other = Quantity(second.low, second.high, "cm").text()
    return f"{noun} {other}" if first == second else f"{noun} {other} against {one}"
