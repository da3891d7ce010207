"""Numbers with units as people write them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.input.quantity import UNITS, read_count, read_quantity, unit_of


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("24 in", "cm", 60.96),
        ('24"', "cm", 60.96),
        ("2 ft", "cm", 60.96),
        ("2 ft 6 in", "cm", 76.2),
        ("2'6\"", "cm", 76.2),
        ("1 1/2 in", "mm", 38.1),
        ("½ in", "mm", 12.7),
        ("60 cm", "cm", 60),
        ("0.6 m", "cm", 60),
        ("-2 in", "cm", -5.08),
        ("1,200 feet", "m", 365.76),
        ("400 sq ft", "m2", 37.161216),
        ("0.5 acre", "m2", 2023.4282112),
        ("5 gal", "l", 18.92705892),
        ("20 gpm", "l_s", 1.261803928),
        ("deep", "cm", None),
        ("24", "cm", None),
        ("24 gal", "cm", None),
        ("", "cm", None),
    ],
)
def test_a_quantity_in_the_unit_of_its_key(text: str, unit: str, value: float | None) -> None:
    """International foot and US gallon, exact by definition."""
    assert read_quantity(text, unit) == (None if value is None else pytest.approx(value))


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("12 plugs", 12),
        ("12", 12),
        ("x12", 12),
        ("about 20", 20),
        ("1,200", 1200),
        ("2 flats", None),
        ("12.5", None),
        ("many", None),
    ],
)
def test_a_count_with_the_word_that_nurseries_put_behind_it(text: str, count: int | None) -> None:
    assert read_count(text) == count


@given(st.floats(0.01, 1e6), st.sampled_from(sorted(UNITS)))
def test_a_number_in_the_key_s_own_unit_comes_back(value: float, unit: str) -> None:
    own = next(word for word, size in UNITS[unit].items() if size == 1.0)
    assert read_quantity(f"{value:.4f} {own}", unit) == pytest.approx(value, abs=1e-4)


@given(st.text(max_size=30), st.sampled_from(sorted(UNITS)))
def test_no_text_is_an_error(text: str, unit: str) -> None:
    read_quantity(text, unit)
    read_count(text)


def test_the_unit_is_the_longest_ending_of_the_key() -> None:
    assert unit_of("rain_intensity_mm_h") == "mm_h"
    assert unit_of("current_m_s") == "m_s"
    assert unit_of("light") is None
