"""Quantities in both unit systems, against pint."""

import math
from typing import Any, get_args

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.values.quantities import Quantity, Unit, to_si, to_us

REGISTRY: Any = pint.UnitRegistry()
PINT_SI = {
    "mm": "millimeter",
    "cm": "centimeter",
    "m": "meter",
    "m2": "meter**2",
    "ha": "hectare",
    "L": "liter",
    "m3": "meter**3",
    "kg": "kilogram",
    "kg/m2": "kilogram/meter**2",
    "kg/m3": "kilogram/meter**3",
    "kg/day": "kilogram/day",
    "N": "newton",
    "N m": "newton*meter",
    "Pa": "pascal",
    "m/s": "meter/second",
    "mm/h": "millimeter/hour",
    "L/s": "liter/second",
    "m3/s": "meter**3/second",
    "cm/week": "centimeter/week",
}
PINT_US = {
    "in": "inch",
    "ft": "foot",
    "sq ft": "foot**2",
    "acres": "(international_foot*66)*(international_foot*660)",
    "gal": "gallon",
    "cu ft": "foot**3",
    "lb": "pound",
    "lb/sq ft": "pound/foot**2",
    "lb/cu ft": "pound/foot**3",
    "lb/day": "pound/day",
    "lbf": "pound_force",
    "lbf ft": "pound_force*foot",
    "lbf/sq ft": "pound_force/foot**2",
    "ft/s": "foot/second",
    "in/h": "inch/hour",
    "gpm": "gallon/minute",
    "cfs": "foot**3/second",
    "in/week": "inch/week",
}
BOTH: list[Unit] = [unit for unit in get_args(Unit) if to_us(1.0, unit) is not None and unit != "C"]


@pytest.mark.parametrize("unit", BOTH)
def test_each_us_customary_value_is_what_pint_says(unit: Unit) -> None:
    converted = to_us(2.5, unit)
    assert converted is not None
    value, label = converted
    us = "foot**2 * 43560" if label == "acres" else PINT_US[label]
    expected = REGISTRY.Quantity(2.5, PINT_SI[unit]).to_base_units() / REGISTRY.Quantity(
        1, REGISTRY.parse_expression(us).units
    )
    if label == "acres":
        expected = expected / 43560
    assert value == pytest.approx(float(expected.to_base_units().magnitude), rel=1e-9)


def test_temperature_is_converted_with_its_offset() -> None:
    assert to_us(-40, "C") == (-40, "°F")
    assert Quantity.exact(0, "C").text() == "0 °C (32°F)"


@given(st.sampled_from(BOTH), st.floats(1e-6, 1e6))
def test_there_and_back_is_the_same_quantity(unit: Unit, value: float) -> None:
    converted = to_us(value, unit)
    assert converted is not None
    assert to_si(*converted, unit) == pytest.approx(value, rel=1e-12)


def test_a_unit_is_not_taken_for_another() -> None:
    with pytest.raises(ValueError, match="not the US customary unit"):
        to_si(1, "ft", "cm")


@pytest.mark.parametrize(
    ("quantity", "text"),
    [
        (Quantity.exact(15, "cm"), "15 cm (6 in)"),
        (Quantity(2.2, 2.5, "days"), "2.2 to 2.5 days"),
        (Quantity.exact(0.4, "share"), "40%"),
        (Quantity.exact(12, "count"), "12"),
        (Quantity.exact(0, "mm"), "0 mm (0 in)"),
        (Quantity.exact(1234.5, "kg"), "1,234 kg (2,722 lb)"),
        (Quantity.exact(13, "mm"), "13 mm (1/2 in)"),
        (Quantity.exact(7, "cm"), "7 cm (2 3/4 in)"),
        (Quantity.exact(60.96, "cm"), "61 cm (24 in)"),
        (Quantity.exact(1, "m"), "1 m (3.3 ft)"),
        (Quantity.exact(-5, "cm"), "-5 cm (-2 in)"),
    ],
)
def test_text_reads_in_both_systems(quantity: Quantity, text: str) -> None:
    assert quantity.text() == text


def test_a_quantity_is_finite_and_runs_forward() -> None:
    with pytest.raises(ValueError, match="backwards"):
        Quantity(2, 1, "m")
    with pytest.raises(ValueError, match="finite"):
        Quantity.exact(math.nan, "m")
