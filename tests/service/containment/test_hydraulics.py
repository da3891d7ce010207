"""Weirs, orifices, screens and racks against published tables and examples."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.containment import hydraulics
from service.containment.parameters import coefficients
from service.values.quantities import to_si, to_us
from tests.checks import inputs, rows
from tests.service.containment.weirs import broad_crested_m3_s, sharp_crested_m3_s

FRANCIS_FT = 3.33
FRANCIS_SI = FRANCIS_FT * 0.3048**0.5


@pytest.mark.parametrize(
    "row",
    rows("engineering_weirs.csv"),
    ids=lambda r: f"{r['relation']} {r['length']} {r['head']} {r['head_unit']}",
)
def test_weirs_notches_and_orifices(row: dict[str, str]) -> None:
    expected, tolerance = float(row["flow"]), float(row["tolerance_share"])
    assert _flow(row) == pytest.approx(expected, rel=tolerance), row["citation"]


def _flow(row: dict[str, str]) -> float:
    head_m = (
        float(row["head"])
        if row["head_unit"] == "m"
        else to_si(float(row["head"]), "in", "mm") / 1000
    )
    length = float(row["length"].split()[0]) if row["length"] else 0.0
    length_m = to_si(length, "ft", "m") if row["length"].endswith("ft") else length
    relation = row["relation"]
    if relation == "v-notch-90":
        return _gpm(hydraulics.v_notch_90_m3_s(head_m))
    if relation == "contracted":
        return _gpm(sharp_crested_m3_s(length_m, head_m, FRANCIS_SI, contractions=2))
    if relation == "francis-per-foot-cfm":
        return _cfs(sharp_crested_m3_s(length_m, head_m, FRANCIS_SI)) * 60
    if relation == "francis-per-foot-cfm-4.69":
        in_si = FRANCIS_SI * 4.69 / 4.81
        return _cfs(sharp_crested_m3_s(length_m, head_m, in_si)) * 60
    if relation == "contracted-si":
        return sharp_crested_m3_s(
            length_m, head_m, coefficients()["sharp_weir"].value, contractions=2
        )
    if relation == "broad":
        return broad_crested_m3_s(length_m, head_m, 1.0)
    assert relation == "orifice"
    return hydraulics.orifice_m3_s(length_m, head_m, coefficients()["orifice_c"].value)


def _gpm(flow_m3_s: float) -> float:
    converted = to_us(flow_m3_s * 1000, "L/s")
    assert converted is not None
    return converted[0]


def _cfs(flow_m3_s: float) -> float:
    converted = to_us(flow_m3_s, "m3/s")
    assert converted is not None
    return converted[0]


def test_one_cubic_foot_a_second_is_448_83_gallons_a_minute() -> None:
    assert _gpm(to_si(1, "cfs", "m3/s")) == pytest.approx(448.83, abs=0.005)


def test_the_francis_coefficient_is_1_84_in_si() -> None:
    """Bureau of Reclamation, Water Measurement Manual: 3.33 in feet, 1.84 in SI."""
    assert pytest.approx(coefficients()["sharp_weir"].value, abs=0.005) == FRANCIS_SI


def test_the_ideal_broad_crest_is_1_705() -> None:
    """(2/3)^1.5 g^0.5, open-channel theory."""
    assert pytest.approx(1.7049, abs=0.0005) == hydraulics.IDEAL_BROAD_CREST


@pytest.mark.parametrize(
    "row", rows("engineering_screens.csv"), ids=lambda row: f"{row['quantity']} {row['inputs']}"
)
def test_screens_and_racks(row: dict[str, str]) -> None:
    value = inputs(row["inputs"])
    found = _screen(row["quantity"], value)
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"])), row[
        "citation"
    ]


def _screen(quantity: str, value: dict[str, float]) -> float:
    if quantity == "area":
        area_m2 = hydraulics.screen_area_m2(
            to_si(value["flow_cfs"], "cfs", "m3/s"), to_si(value["velocity_ft_s"], "ft/s", "m/s")
        )
        converted = to_us(area_m2, "m2")
        assert converted is not None
        return converted[0]
    if quantity == "bar-rack":
        return hydraulics.bar_rack_loss_m(value["slot"], value["approach"], value["c"])
    if quantity == "rack-area":
        return hydraulics.rack_gross_area_m2(
            value["flow"],
            value["velocity"],
            value["gap"],
            value["bar"],
            value["angle"],
            value["clear"],
        )
    assert quantity == "kirschmer"
    return hydraulics.kirschmer_loss_m(
        value["shape"], value["bar"], value["gap"], value["velocity"], value["angle"]
    )


def test_loss_of_a_fine_screen_goes_with_the_square_of_what_is_blocked() -> None:
    """h = (Q / (C A))^2 / 2g: half the area, four times the loss (identity)."""
    clean = hydraulics.fine_screen_loss_m(0.01, 0.2, 0.6)
    assert hydraulics.fine_screen_loss_m(0.01, 0.1, 0.6) == pytest.approx(4 * clean)
    assert clean == pytest.approx((0.01 / 0.12) ** 2 / 19.6133)


@given(st.floats(0.001, 10), st.floats(0.1, 20), st.floats(1, 2.5))
def test_head_over_a_weir_gives_the_flow_back(
    flow: float, length: float, coefficient: float
) -> None:
    head = hydraulics.head_over_weir_m(flow, length, coefficient)
    assert sharp_crested_m3_s(length, head, coefficient) == pytest.approx(flow, rel=1e-9)


@given(st.floats(0.5, 20), st.floats(0.2, 5))
def test_a_mesh_is_less_open_than_bars_of_the_same_gap(opening: float, wire: float) -> None:
    assert hydraulics.mesh_open_share(opening, wire) < hydraulics.bar_open_share(opening, wire) < 1
