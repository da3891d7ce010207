"""How a factor is written down: its fact, its coefficient, and where each is known from."""

from service.escape.draws import Array
from service.escape.interval import Interval
from service.escape.values import Direction, Factor
from service.values.plants import Provenance
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
    rows: Array,
    direction: Direction,
    fact: Provenance,
    coefficient: Coefficient | None,
) -> Factor:
    """A factor of a product: its weight is how far it lies below certain.

    Args:
        rows: what it gives, of which the last three are mildest, half way and worst.
    """
    interval, likely = _ends(rows)
    return Factor(
        name,
        value,
        unit,
        interval,
        likely,
        direction,
        1.0 - likely,
        fact.how_known,
        source_of(fact, coefficient),
    )


def pushes_up(
    name: str,
    value: str | float | bool | None,
    unit: str,
    rows: Array,
    direction: Direction,
    fact: Provenance,
    coefficient: Coefficient | None,
) -> Factor:
    """One of several ways to the same end: its weight is how far it lies above impossible."""
    interval, likely = _ends(rows)
    return Factor(
        name,
        value,
        unit,
        interval,
        likely,
        direction,
        likely,
        fact.how_known,
        source_of(fact, coefficient),
    )


def _ends(rows: Array) -> tuple[Interval, float]:
    mildest, middle, worst = rows[-3:].tolist()
    low, high = max(0.0, min(mildest, worst)), min(1.0, max(mildest, worst))
    return Interval(low, high), min(max(middle, low), high)


def by_weight(factors: list[Factor]) -> tuple[Factor, ...]:
    """Weightiest first; equal weights by name."""
    return tuple(sorted(factors, key=lambda factor: (-factor.weight, factor.name)))
