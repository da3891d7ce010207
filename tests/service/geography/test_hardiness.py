"""Hardiness half zones by definition."""

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import BadRequest
from service.geography.hardiness import (
    HALF_ZONES,
    celsius_to_fahrenheit,
    half_zone_at,
    half_zone_at_c,
    interval_of,
    parse_zone,
)

CHECKS = Path(__file__).parents[2] / "checks" / "hardiness.csv"
ROWS = list(csv.DictReader(CHECKS.open(encoding="utf-8")))


@pytest.mark.parametrize("row", ROWS, ids=[row["zone"] for row in ROWS])
def test_a_half_zone_has_the_published_temperatures(row: dict[str, str]) -> None:
    # USDA Plant Hardiness Zone Map, 2012 and 2023 editions; see the citation column.
    interval = interval_of(row["zone"])
    assert (interval.low_f, interval.high_f) == (float(row["t_min_F"]), float(row["t_max_F"]))
    assert interval.low_c == pytest.approx(float(row["t_min_C"]), abs=0.051)
    assert interval.high_c == pytest.approx(float(row["t_max_C"]), abs=0.051)


def test_the_published_table_is_the_whole_of_the_half_zones() -> None:
    assert tuple(row["zone"] for row in ROWS) == HALF_ZONES


@given(st.floats(-60, 69.999))
def test_every_temperature_lies_in_its_own_half_zone(extreme_f: float) -> None:
    interval = interval_of(half_zone_at(extreme_f))
    assert interval.low_f <= extreme_f < interval.high_f


@pytest.mark.parametrize("zone", HALF_ZONES)
def test_the_cold_end_belongs_to_the_zone_in_either_unit(zone: str) -> None:
    interval = interval_of(zone)
    assert half_zone_at(interval.low_f) == zone
    assert half_zone_at_c(interval.low_c) == zone


def test_a_whole_zone_is_both_its_halves() -> None:
    whole = interval_of("6")
    assert (whole.low_f, whole.high_f) == (interval_of("6a").low_f, interval_of("6b").high_f)


@pytest.mark.parametrize(
    ("text", "plain"), [("Zone 6B", "6b"), (" 10a ", "10a"), ("7", "7"), ("zone 13", "13")]
)
def test_a_zone_is_read_as_people_write_it(text: str, plain: str) -> None:
    assert parse_zone(text) == plain


@pytest.mark.parametrize("text", ["0a", "14a", "6c", "", "6ab", "six"])
def test_what_is_no_zone_is_refused(text: str) -> None:
    with pytest.raises(BadRequest, match="not one"):
        parse_zone(text)


@pytest.mark.parametrize("extreme_f", [-60.1, 70.0, float("nan"), float("inf")])
def test_temperatures_beyond_the_zones_are_refused(extreme_f: float) -> None:
    with pytest.raises(BadRequest, match="outside the zones"):
        half_zone_at(extreme_f)


def test_celsius_and_fahrenheit_agree() -> None:
    assert celsius_to_fahrenheit(-40.0) == -40.0
