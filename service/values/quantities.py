"""Quantities in SI units, with US customary units beside them for people to read.

Conversion factors are exact by definition (international foot and pound, US gallon, standard
gravity).
"""

import math
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

Unit = Literal[
    "share",
    "count",
    "ratio",
    "mm",
    "cm",
    "m",
    "m2",
    "ha",
    "L",
    "m3",
    "kg",
    "kg/m2",
    "kg/m3",
    "kg/day",
    "N",
    "N m",
    "Pa",
    "m/s",
    "mm/h",
    "L/s",
    "m3/s",
    "cm/week",
    "C",
    "deg",
    "days",
    "years",
    "per day",
]
"""SI units as they are written out.

``share`` is a part of one, shown in percent; ``ratio`` has no dimension.
"""

STANDARD_GRAVITY = 9.80665
"""m/s2, by definition."""

_FOOT_M = 0.3048
_POUND_KG = 0.45359237
_GALLON_L = 3.785411784
_ACRE_M2 = 4046.8564224
_POUND_FORCE_N = _POUND_KG * STANDARD_GRAVITY

_US: dict[Unit, tuple[str, float]] = {
    "mm": ("in", _FOOT_M * 1000 / 12),
    "cm": ("in", _FOOT_M * 100 / 12),
    "m": ("ft", _FOOT_M),
    "m2": ("sq ft", _FOOT_M**2),
    "ha": ("acres", _ACRE_M2 / 10_000),
    "L": ("gal", _GALLON_L),
    "m3": ("cu ft", _FOOT_M**3),
    "kg": ("lb", _POUND_KG),
    "kg/m2": ("lb/sq ft", _POUND_KG / _FOOT_M**2),
    "kg/m3": ("lb/cu ft", _POUND_KG / _FOOT_M**3),
    "kg/day": ("lb/day", _POUND_KG),
    "N": ("lbf", _POUND_FORCE_N),
    "N m": ("lbf ft", _POUND_FORCE_N * _FOOT_M),
    "Pa": ("lbf/sq ft", _POUND_FORCE_N / _FOOT_M**2),
    "m/s": ("ft/s", _FOOT_M),
    "mm/h": ("in/h", _FOOT_M * 1000 / 12),
    "L/s": ("gpm", _GALLON_L / 60),
    "m3/s": ("cfs", _FOOT_M**3),
    "cm/week": ("in/week", _FOOT_M * 100 / 12),
}
"""SI unit -> US customary unit, and how many of the SI unit make one of it."""

_BARE: dict[Unit, str] = {"count": "", "ratio": "", "C": " °C", "deg": "°"}
_SQUARE = {"m2": "m²", "m3": "m³", "m3/s": "m³/s", "kg/m2": "kg/m²", "kg/m3": "kg/m³", "N m": "N·m"}


@dataclass(frozen=True, slots=True)
class Quantity:
    """A closed range of a quantity; an exact value is a range of no width."""

    low: float
    high: float
    unit: Unit

    def __post_init__(self) -> None:
        if not (math.isfinite(self.low) and math.isfinite(self.high)):
            raise ValueError(f"a quantity must be finite: {self.low} to {self.high} {self.unit}")
        if self.low > self.high:
            raise ValueError(f"range runs backwards: {self.low} > {self.high} {self.unit}")

    @classmethod
    def exact(cls, value: float, unit: Unit) -> "Quantity":
        return cls(value, value, unit)

    def us(self) -> tuple[float, float, str] | None:
        """Low, high and unit in US customary units; None for a quantity that has the same unit
        in both.
        """
        converted = to_us(self.low, self.unit)
        if converted is None:
            return None
        low, unit = converted
        high = to_us(self.high, self.unit)
        return low, high[0] if high else low, unit

    def text(self) -> str:
        """SI as it is, US customary beside it as a person would say it.

        >>> Quantity.exact(15, "cm").text(), Quantity.exact(13, "mm").text()
        ('15 cm (6 in)', '13 mm (1/2 in)')
        >>> Quantity(2.2, 2.5, "days").text(), Quantity.exact(0.4, "share").text()
        ('2.2 to 2.5 days', '40%')
        """
        if self.unit == "share":
            return f"{_span(self.low * 100, self.high * 100)}%"
        label = _BARE.get(self.unit, " " + _SQUARE.get(self.unit, self.unit))
        us = self.us()
        beside = (
            ""
            if us is None
            else f" ({_us_span(us[0], us[1], us[2])}{'' if us[2] == '°F' else ' '}{us[2]})"
        )
        return f"{_span(self.low, self.high)}{label}{beside}"


def to_us(value: float, unit: Unit) -> tuple[float, str] | None:
    """``value`` in US customary units and that unit's label, or None where there is no other
    unit.
    """
    if unit == "C":
        return value * 9 / 5 + 32, "°F"
    if unit not in _US:
        return None
    label, size = _US[unit]
    return value / size, label


def to_si(value: float, us_label: str, unit: Unit) -> float:
    """A US customary value in the SI ``unit``: ``to_si(6, "in", "cm")``.

    Raises:
        ValueError: the label is not the customary partner of ``unit``.
    """
    if unit == "C" and us_label == "°F":
        return (value - 32) * 5 / 9
    if unit not in _US or _US[unit][0] != us_label:
        raise ValueError(f"{us_label!r} is not the US customary unit beside {unit!r}")
    return value * _US[unit][1]


def _span(low: float, high: float) -> str:
    first, last = _number(low), _number(high)
    return first if first == last else f"{first} to {last}"


def _us_span(low: float, high: float, unit: str) -> str:
    first, last = _us_number(low, unit), _us_number(high, unit)
    return first if first == last else f"{first} to {last}"


def _us_number(value: float, unit: str) -> str:
    """Inches in the fractions of a rule, finer the shorter; other units to two figures or whole."""
    if unit == "in":
        return _inches(value)
    return f"{round(value):,}" if abs(value) >= 10 else _number(float(f"{value:.2g}"))


_RULE = ((0.25, 16), (1.0, 8), (6.0, 4), (12.0, 2))
"""Below so many inches, parts of an inch: common practice, no source."""


def _inches(value: float) -> str:
    parts = next((parts for limit, parts in _RULE if abs(value) < limit), 1)
    whole = Fraction(round(abs(value) * parts), parts)
    if whole == 0:
        return _number(float(f"{value:.1g}")) if value else "0"
    sign = "-" if value < 0 else ""
    full, rest = divmod(whole.numerator, whole.denominator)
    if not rest:
        return f"{sign}{full:,}"
    fraction = f"{rest}/{whole.denominator}"
    return f"{sign}{full:,} {fraction}" if full else f"{sign}{fraction}"


def _number(value: float) -> str:
    """Three significant figures, whole numbers whole, never in powers of ten."""
    if value == 0:
        return "0"
    places = max(0, 2 - math.floor(math.log10(abs(value))))
    text = f"{round(value, places):,.{places}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
