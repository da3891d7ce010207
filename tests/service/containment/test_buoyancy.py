"""Foam, floating and tipping against published values and textbook cases."""

import math
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from service.containment import buoyancy
from service.containment.parameters import foams
from service.values.quantities import to_si
from tests.checks import rows

BODIES = rows("engineering_floating_bodies.csv")
LIFTS = [row for row in rows("engineering_buoyancy.csv") if row["quantity"] == "d6817-lift"]
EXAMPLES = {
    row["quantity"]: row
    for row in rows("engineering_buoyancy.csv")
    if row["quantity"] != "d6817-lift"
}


@pytest.mark.parametrize("row", LIFTS, ids=lambda row: f"{row['input']} lb/cu ft")
def test_lift_of_dry_foam_is_that_of_the_geofoam_sheet(row: dict[str, str]) -> None:
    water = to_si(62.4, "lb/cu ft", "kg/m3")
    density = to_si(float(row["input"]), "lb/cu ft", "kg/m3")
    lift = buoyancy.net_lift_kg_m3(density, 0, water) / to_si(1, "lb/cu ft", "kg/m3")
    assert lift == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]) + 1e-9), row[
        "citation"
    ]


@pytest.mark.parametrize("row", rows("engineering_foam.csv"), ids=lambda row: row["foam"])
def test_each_foam_of_the_data_file_is_that_of_astm_c578(row: dict[str, str]) -> None:
    density, uptake = foams()[row["foam"]]
    assert density.value == float(row["density_kg_m3"])
    assert density.value == pytest.approx(
        to_si(float(row["density_lb_cu_ft"]), "lb/cu ft", "kg/m3"), abs=1
    )
    assert uptake.value * 100 == pytest.approx(float(row["uptake_percent"]))


def test_long_term_lift_of_type_i() -> None:
    row = EXAMPLES["long-term-lift-type-i"]
    assert buoyancy.net_lift_kg_m3(15, 0.04) == pytest.approx(float(row["expected"]), abs=0.5), row[
        "citation"
    ]


def test_a_tenth_of_a_cubic_metre_carries_98_5_kg() -> None:
    row = EXAMPLES["float-check-type-i"]
    assert float(row["input"]) * buoyancy.net_lift_kg_m3(15, 0) == pytest.approx(
        float(row["expected"]), abs=0.05
    )


@pytest.mark.parametrize("name", ["steel-submerged", "steel-hull"])
def test_archimedes_on_the_openstax_ship(name: str) -> None:
    """OpenStax, College Physics, buoyancy example (from memory): force = rho_w g V."""
    row = EXAMPLES[name]
    displaced_kg = float(row["input"]) * buoyancy.WATER_KG_M3
    assert displaced_kg * 9.81 == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize(
    "row", [row for row in BODIES if row["expected_gm_m"]], ids=lambda row: row["case"]
)
def test_metacentric_height_of_textbook_pontoons(row: dict[str, str]) -> None:
    length, width, draft = float(row["length_m"]), float(row["width_m"]), float(row["draft_m"])
    moment = buoyancy.waterplane_moment_m4(length, width)
    displaced = length * width * draft
    tolerance = float(row["tolerance"])
    assert moment / displaced == pytest.approx(float(row["expected_bm_m"]), abs=tolerance), row[
        "citation"
    ]
    metacentric = buoyancy.metacentric_height_m(
        moment, displaced, draft / 2, float(row["gravity_centre_m"])
    )
    assert metacentric == pytest.approx(float(row["expected_gm_m"]), abs=tolerance), row["citation"]


@pytest.mark.parametrize(
    "row", [row for row in BODIES if row["mass_kg"]], ids=lambda row: row["case"]
)
def test_draft_of_textbook_pontoons(row: dict[str, str]) -> None:
    deck = float(row["length_m"]) * float(row["width_m"])
    none = buoyancy.HangingPot(0.1, 0.1, 0.1)
    draft = buoyancy.draft_m(float(row["mass_kg"]), deck, 3, none, 0, float(row["water_kg_m3"]))
    assert draft == pytest.approx(float(row["expected_draft_m"]), abs=float(row["tolerance"])), row[
        "citation"
    ]


def test_wind_pressure_is_that_of_the_building_code() -> None:
    """ASCE 7: velocity pressure 0.613 V^2 Pa at standard air."""
    assert buoyancy.wind_force_n(1, 20, 1, 1.225) == pytest.approx(0.613 * 400, rel=0.001)


def test_current_drag_by_hand() -> None:
    """0.5 x 1000 x 1.2 x 0.5 m2 x (0.2 m/s)^2 = 12 N (arithmetic of the drag equation)."""
    assert buoyancy.current_force_n(0.5, 0.2, 1.2) == pytest.approx(12)


def test_heel_and_edge_by_hand() -> None:
    """tan(phi) = 98.0665 / (100 g 0.5) = 0.2; edge of a 1 m slab with 0.1 m freeboard at tan 0.2
    (arithmetic).
    """
    assert buoyancy.heel_deg(98.0665, 100, 0.5) == pytest.approx(math.degrees(math.atan(0.2)))
    assert buoyancy.edge_under_deg(0.1, 1) == pytest.approx(math.degrees(math.atan(0.2)))


def test_a_concrete_anchor_loses_its_own_buoyancy() -> None:
    """Block of 2400 kg/m3: of each kg, 1 - 1000/2400 presses on the bed (Archimedes)."""
    mass = buoyancy.anchor_mass_kg(100, 0.5, 2400)
    assert mass * 9.80665 * (1 - 1000 / 2400) * 0.5 == pytest.approx(100)


POT = buoyancy.HangingPot(0.2, 0.16, 0.25)
SLAB: dict[str, Any] = {"deck_area_m2": 2.0, "pot": POT, "count": 10}


@pytest.mark.parametrize("depth", [0.0, 0.05, 0.2])
def test_a_hanging_pot_has_the_volume_of_a_frustum(depth: float) -> None:
    """Ten thousand discs of the pot's width at their depth (the volume of a cone cut off)."""
    step = (POT.reach_m - depth) / 10_000
    discs, moment = 0.0, 0.0
    for index in range(10_000):
        at = depth + (index + 0.5) * step
        wide = POT.top_m - (POT.top_m - POT.base_m) * at / POT.reach_m
        discs += math.pi / 4 * wide**2 * step
        moment += math.pi / 4 * wide**2 * step * at
    assert POT.volume_below_m3(depth) == pytest.approx(discs, rel=1e-6)
    assert POT.centre_below_m(depth) == pytest.approx(moment / discs, rel=1e-6)


@given(st.floats(1, 400), st.floats(0, 300), st.floats(0.01, 0.15))
def test_more_load_never_needs_less_foam(load: float, more: float, freeboard: float) -> None:
    pots = load * 0.8
    thickness = [
        buoyancy.foam_thickness_m(
            load + extra, freeboard, pots_mass_kg=pots, lift_kg_m3=800, **SLAB
        )
        for extra in (0.0, more)
    ]
    assert thickness[1] >= thickness[0]


@given(st.floats(1, 400), st.floats(0, 300))
def test_heavier_pots_never_need_less_foam(pots: float, more: float) -> None:
    light = buoyancy.foam_thickness_m(pots + 20, 0.05, pots_mass_kg=pots, lift_kg_m3=800, **SLAB)
    heavy = buoyancy.foam_thickness_m(
        pots + more + 20, 0.05, pots_mass_kg=pots + more, lift_kg_m3=800, **SLAB
    )
    assert heavy >= light - 1e-12


@given(st.floats(20, 400), st.floats(0.02, 0.15), st.floats(0, 0.05))
def test_the_thickness_floats_at_the_freeboard_asked(
    load: float, freeboard: float, uptake: float
) -> None:
    """The slab sized by the balance floats by the draft equation as asked, wherever pots weigh
    more than they displace.
    """
    foam = 30.0
    lift = buoyancy.net_lift_kg_m3(foam, uptake)
    displaced = 1000 * 10 * POT.volume_below_m3(freeboard)
    assume(load >= displaced)
    thickness = buoyancy.foam_thickness_m(
        load, freeboard, pots_mass_kg=load, lift_kg_m3=lift, **SLAB
    )
    total = load + thickness * SLAB["deck_area_m2"] * (foam + 1000 * uptake)
    draft = buoyancy.draft_m(total, 2.0, thickness, POT, 10)
    assert thickness - draft == pytest.approx(freeboard, abs=1e-6)


def test_a_top_heavy_body_is_not_said_to_heel() -> None:
    with pytest.raises(ValueError, match="upright"):
        buoyancy.heel_deg(10, 100, 0)
