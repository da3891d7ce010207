"""Storm runoff against TR-55 and worked examples."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.containment import hydrology
from service.values.quantities import to_si
from tests.checks import inputs, rows

TABLE_2_1 = rows("tr55_table_2_1.csv")
IN_MM = 25.4


def test_the_whole_table_is_held() -> None:
    assert len(TABLE_2_1) == 286
    assert sum(row["agrees_within_0_005_in"] == "no" for row in TABLE_2_1) == 1


def test_every_good_cell_of_tr55_table_2_1() -> None:
    """USDA NRCS, TR-55, June 1986, table 2-1: printed to 0.01 in, so within half of that."""
    for row in TABLE_2_1:
        if row["agrees_within_0_005_in"] == "yes":
            depth_mm = hydrology.runoff_depth_mm(
                float(row["rainfall_in"]) * IN_MM, float(row["curve_number"])
            )
            assert depth_mm / IN_MM == pytest.approx(float(row["runoff_in"]), abs=0.005 + 1e-9), row


def test_the_one_bad_cell_is_off_by_a_misprint() -> None:
    """P 7.0 in, CN 50 is printed 1.68 where the equation of the same chapter gives 1.667."""
    (row,) = [row for row in TABLE_2_1 if row["agrees_within_0_005_in"] == "no"]
    depth_in = (
        hydrology.runoff_depth_mm(float(row["rainfall_in"]) * IN_MM, float(row["curve_number"]))
        / IN_MM
    )
    assert 0.005 < abs(depth_in - float(row["runoff_in"])) < 0.02
    assert depth_in == pytest.approx(1.667, abs=0.001)


@pytest.mark.parametrize(
    "row", rows("engineering_runoff.csv"), ids=lambda row: f"{row['quantity']} {row['inputs']}"
)
def test_worked_examples(row: dict[str, str]) -> None:
    found = _worked(row["quantity"], row["inputs"])
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"])), row[
        "citation"
    ]


def _worked(quantity: str, text: str) -> float:
    if quantity == "weighted":
        parts = [
            (float(area), float(number))
            for area, number in (pair.split(":") for pair in text.split())
        ]
        return hydrology.weighted_curve_number(parts)
    value = inputs(text)
    if quantity == "retention":
        return hydrology.potential_retention_mm(value["curve_number"]) / IN_MM
    if quantity == "abstraction":
        return (
            hydrology.INITIAL_ABSTRACTION_RATIO
            * hydrology.potential_retention_mm(value["curve_number"])
            / IN_MM
        )
    if quantity == "runoff":
        return (
            hydrology.runoff_depth_mm(value["rainfall_in"] * IN_MM, value["curve_number"]) / IN_MM
        )
    if quantity == "connected":
        return hydrology.connected_curve_number(value["pervious"], value["impervious"])
    if quantity == "unconnected":
        return hydrology.unconnected_curve_number(
            value["pervious"], value["impervious"], value["unconnected"]
        )
    assert quantity == "rational"
    intensity, area = (
        to_si(value["intensity_in_h"], "in/h", "mm/h"),
        to_si(value["area_ac"], "acres", "ha"),
    )
    return hydrology.rational_peak_m3_s(value["c"], intensity, area) / to_si(1, "cfs", "m3/s")


def test_rain_on_paved_ground_at_100_all_runs_off() -> None:
    assert hydrology.runoff_depth_mm(50, 100) == pytest.approx(50)


@given(st.floats(0, 1000), st.floats(0, 200), st.floats(30, 100))
def test_more_rain_never_brings_less_runoff_nor_more_than_the_rain(
    rain: float, more: float, number: float
) -> None:
    less, runoff = (
        hydrology.runoff_depth_mm(rain, number),
        hydrology.runoff_depth_mm(rain + more, number),
    )
    assert runoff >= less - 1e-9
    assert 0 <= less <= rain + 1e-9


@given(st.floats(0, 1000), st.floats(30, 95), st.floats(0, 5))
def test_a_higher_curve_number_never_brings_less_runoff(
    rain: float, number: float, more: float
) -> None:
    assert (
        hydrology.runoff_depth_mm(rain, number + more)
        >= hydrology.runoff_depth_mm(rain, number) - 1e-9
    )


@given(st.floats(0.001, 5000), st.floats(1, 10_000), st.sampled_from([0.0, 1.0, 3.0]))
def test_rise_and_stored_volume_are_inverse(volume: float, area: float, slope: float) -> None:
    rise = hydrology.water_rise_m(volume, area, slope)
    assert hydrology.stored_volume_m3(rise, area, slope) == pytest.approx(
        volume, rel=1e-6, abs=1e-6
    )


def test_sloping_banks_store_more_than_upright_walls() -> None:
    assert hydrology.water_rise_m(50, 100, 3) < hydrology.water_rise_m(50, 100)


@given(st.floats(1, 500), st.floats(10, 5000), st.floats(0, 50_000), st.floats(40, 100))
def test_the_largest_storm_held_just_fills_the_room(
    storage: float, area: float, catchment: float, number: float
) -> None:
    storm_mm = hydrology.largest_storm_held_mm(storage, area, catchment, number)
    assert hydrology.storm_volume_m3(storm_mm, area, catchment, number) == pytest.approx(
        storage, rel=1e-4, abs=1e-4
    )


def test_chance_of_a_hundred_year_storm_in_thirty_years() -> None:
    """Binomial risk, Chow, Maidment and Mays, Applied Hydrology, section 12.1 (from memory): 26%
    in a 30-year mortgage.
    """
    assert hydrology.chance_over_years(100, 30) == pytest.approx(0.26, abs=0.005)


@pytest.mark.parametrize("number", [0, -5, 101])
def test_a_curve_number_off_the_scale_is_turned_away(number: float) -> None:
    with pytest.raises(ValueError, match="curve number"):
        hydrology.runoff_depth_mm(50, number)
