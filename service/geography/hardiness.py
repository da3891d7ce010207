"""Hardiness zones by their definition: half zones of 5 degrees Fahrenheit of mean annual extreme
minimum temperature.

USDA Agricultural Research Service, Plant Hardiness Zone Map, editions of 2012 and 2023: 13 zones of
10 F from -60 F up, each in halves a (colder) and b. A bound belongs to the warmer half zone.
"""

import math
import re
from bisect import bisect_right
from dataclasses import dataclass

from service.errors import BadRequest

COLDEST_F = -60.0
HALF_ZONE_F = 5.0
HALF_ZONES = tuple(f"{number}{half}" for number in range(1, 14) for half in "ab")
"""Coldest first: ``1a`` to ``13b``."""

_BOUNDS_F = [COLDEST_F + HALF_ZONE_F * step for step in range(len(HALF_ZONES) + 1)]
_ZONE = re.compile(r"\s*(?:zone\s*)?(1[0-3]|[1-9])\s*([ab]?)\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class ZoneInterval:
    """Mean annual extreme minimum temperature of a zone.

    The warm end is the cold end of the next.
    """

    low_f: float
    high_f: float

    @property
    def low_c(self) -> float:
        return fahrenheit_to_celsius(self.low_f)

    @property
    def high_c(self) -> float:
        return fahrenheit_to_celsius(self.high_f)


def fahrenheit_to_celsius(degrees_f: float) -> float:
    return (degrees_f - 32.0) * 5.0 / 9.0


def celsius_to_fahrenheit(degrees_c: float) -> float:
    return degrees_c * 9.0 / 5.0 + 32.0


def parse_zone(text: str) -> str:
    """A zone as written by people, ``Zone 6B`` or ``6``, in its plain form, ``6b`` or ``6``.

    >>> parse_zone("Zone 6B")
    '6b'

    Raises:
        BadRequest: not a zone from 1 to 13, with or without its half.
    """
    found = _ZONE.fullmatch(text)
    if found is None:
        raise BadRequest(
            f"Hardiness zone {text!r} is not one.",
            next_step="Use 1a to 13b, or a whole zone such as 6.",
        )
    return f"{found[1]}{found[2].lower()}"


def interval_of(zone: str) -> ZoneInterval:
    """The temperatures of a half zone, or of a whole zone where the half is not said.

    >>> interval_of("6b")
    ZoneInterval(low_f=-5.0, high_f=0.0)

    Raises:
        BadRequest: not a zone.
    """
    plain = parse_zone(zone)
    if plain[-1] in "ab":
        low = COLDEST_F + HALF_ZONE_F * HALF_ZONES.index(plain)
        return ZoneInterval(low, low + HALF_ZONE_F)
    low = COLDEST_F + 2 * HALF_ZONE_F * (int(plain) - 1)
    return ZoneInterval(low, low + 2 * HALF_ZONE_F)


def half_zone_at(extreme_minimum_f: float) -> str:
    """The half zone of a mean annual extreme minimum temperature in degrees Fahrenheit.

    >>> half_zone_at(-7.5)
    '6a'

    Raises:
        BadRequest: colder than zone 1a or as warm as no zone.
    """
    step = (
        bisect_right(_BOUNDS_F, extreme_minimum_f) - 1 if math.isfinite(extreme_minimum_f) else -1
    )
    if not 0 <= step < len(HALF_ZONES):
        raise BadRequest(
            f"{extreme_minimum_f:g} F lies outside the zones.",
            next_step="Zones run from -60 F to below 70 F.",
        )
    return HALF_ZONES[step]


def half_zone_at_c(extreme_minimum_c: float) -> str:
    """As :func:`half_zone_at`, from degrees Celsius."""
    # A bound that was turned to Celsius and back must come out on its own side.
    return half_zone_at(round(celsius_to_fahrenheit(extreme_minimum_c), 9))
