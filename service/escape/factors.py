"""How a factor is written down: its fact, its coefficient, and where each is known from."""

from service.escape.interval import Interval
from service.escape.values import Direction, Factor
from service.values.plants import Provenance
from service.values.vocabulary import HowKnown
from service.values.workings import NO_SOURCE, Coefficient

NOT_GIVEN = Provenance("common-practice")
"""Of a fact that nobody has given: the range taken for it is judgement."""
BY_REQUEST = Provenance("user")
MEASURED = Provenance("measured")
"""Worked out from loaded data."""


def source_of(fact: Provenance, coefficient: Coefficient | None) -> str:
    """Sources of the fact and of the coefficient; "common practice, no source" where neither has
    one.
    """
    sources = [fact.source] if fact.source else []
    if coefficient is not None and coefficient.known.source:
        sources.append(f"coefficient: {coefficient.source}")
    return "; ".join(sources) or NO_SOURCE


def pulls_down(
    name: str,
    value: str | float | bool | None,
    unit: str,
    interval: Interval,
    direction: Direction,
    fact: Provenance,
    coefficient: Coefficient | None,
) -> Factor:
    """A factor of a product: its weight is how far it lies below certain."""
    return _factor(name, value, unit, interval, direction, 1.0 - interval.middle, fact, coefficient)


def pushes_up(
    name: str,
    value: str | float | bool | None,
    unit: str,
    interval: Interval,
    direction: Direction,
    fact: Provenance,
    coefficient: Coefficient | None,
) -> Factor:
    """One of several ways to the same end: its weight is how far it lies above impossible."""
    return _factor(name, value, unit, interval, direction, interval.middle, fact, coefficient)


def _factor(
    name: str,
    value: str | float | bool | None,
    unit: str,
    interval: Interval,
    direction: Direction,
    weight: float,
    fact: Provenance,
    coefficient: Coefficient | None,
) -> Factor:
    how_known: HowKnown = fact.how_known
    return Factor(
        name, value, unit, interval, direction, weight, how_known, source_of(fact, coefficient)
    )


def by_weight(factors: list[Factor]) -> tuple[Factor, ...]:
    """Weightiest first; equal weights by name."""
    return tuple(sorted(factors, key=lambda factor: (-factor.weight, factor.name)))
