"""Each measure worked out, by hand and by property."""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.containment import (
    BarrierSection,
    CoverPart,
    FreeboardSection,
    IslandSection,
    RingSection,
    ScreenSection,
    TubSection,
    hydraulics,
)
from service.containment.containers import (
    apparent_mass_under_water_kg,
    diameter_at,
    saturated_mass_kg,
    tapered_volume_l,
)
from service.containment.island_layout import holes_along
from service.containment.measures.pots import lift
from service.values.growth import least_pot
from service.values.quantities import to_si
from service.values.site import Climate, Place, Position
from tests.checks import rows
from tests.service.containment.plans import (
    CREEPER,
    FLOATER,
    FULL,
    POND,
    TALL_SEDGE,
    WATERWEED,
    figure_of,
    measure_of,
    plan_of,
    with_traits,
)
from tests.service.containment.weirs import broad_crested_m3_s, sharp_crested_m3_s

IN_TUB = Position(crown_depth_cm=0, holding="no-drain-tub", soil="aquatic-clay")
IN_RING = Position(holding="floating-ring")


# --- pots and tubs


def test_a_bucket_by_hand() -> None:
    """Frustum 30 cm and 24 cm across, 28 cm high: pi x 28 (900 + 720 + 576) / 12 / 1000 = 16.1 L
    (geometry).
    """
    assert tapered_volume_l(30, 24, 28) == pytest.approx(16.10, abs=0.005)
    assert tapered_volume_l(20, 20, 10) == pytest.approx(3.1416, abs=0.0001)


def test_saturated_weight_by_hand() -> None:
    """20 L of clay loam at 1,900 kg/m3, 3 kg of plant and 1 kg of pot: 42 kg (common practice,
    no source).
    """
    assert saturated_mass_kg(20, 1900, 3, 0.05) == pytest.approx(42)


def test_a_pot_under_water_weighs_its_soil_less_the_water_it_displaces() -> None:
    """Archimedes: 10 L at 1,900 kg/m3 weighs 19 kg in air and 9 kg under water; peat at 970
    lifts off.
    """
    assert apparent_mass_under_water_kg(10, 1900, 0) == pytest.approx(19)
    assert apparent_mass_under_water_kg(10, 1900, 1) == pytest.approx(9)
    assert apparent_mass_under_water_kg(10, 970, 1) < 0


def test_saturated_peat_is_dry_density_and_full_pores() -> None:
    (row,) = [
        row for row in rows("engineering_buoyancy.csv") if row["quantity"] == "saturated-peat"
    ]
    assert float(row["input"]) + 0.85 == pytest.approx(
        float(row["expected"]), abs=float(row["tolerance"])
    )


@pytest.mark.parametrize(
    ("kg", "who"),
    [(to_si(51, "lb", "kg") - 0.2, "one person"), (28, "two people"), (31, "equipment")],
)
def test_who_lifts_it(kg: float, who: str) -> None:
    """NIOSH load constant 51 lb as given by OSHA; two people two thirds of twice that (HSE L23,
    from memory).
    """
    assert lift(kg) == who


@pytest.mark.parametrize(
    ("height_cm", "litres"), [(20, 3.8), (31, 7.6), (90, 7.6), (180, 15), (300, 26)]
)
def test_least_pot_by_height(height_cm: float, litres: float) -> None:
    """Pots of 1, 2, 4 and 7 US gallons: common practice, no source."""
    assert least_pot("emergent", height_cm).value == litres


def test_a_peat_mix_is_said_to_float_out() -> None:
    pot = measure_of(
        plan_of(TALL_SEDGE, position=replace(IN_TUB, holding="basket", soil="peat-mix")),
        "solid-pot",
    )
    assert figure_of(pot, "weight of its soil under water").result.low < 0
    assert any("may float out" in step for step in pot.steps)


def test_lilies_and_waterweeds_are_not_potted_by_their_height() -> None:
    """Common practice, no source."""
    assert least_pot("floating-leaved", 10).value == 15
    assert least_pot("submerged", 300).value == 3.8


def test_the_step_says_who_lifts_the_pot() -> None:
    pot = measure_of(
        plan_of(
            TALL_SEDGE,
            position=replace(IN_TUB, holding="basket"),
            request=replace(FULL, pot_volume_l=40),
        ),
        "solid-pot",
    )
    assert any("takes equipment" in step and "23 kg (51 lb)" in step for step in pot.steps)


def test_a_tub_with_its_rim_under_water_does_not_hold_rhizomes() -> None:
    sunk = measure_of(
        plan_of(TALL_SEDGE, position=replace(IN_TUB, crown_depth_cm=15)), "no-drain-tub"
    )
    clear = measure_of(
        plan_of(TALL_SEDGE, position=replace(IN_TUB, crown_depth_cm=-5)), "no-drain-tub"
    )
    assert all(way.strength != "holds" for way in sunk.held)
    assert any(way.strength == "holds" for way in clear.held)
    (rim,) = [check for check in sunk.checks if "rim" in check.name]
    assert not rim.passes
    assert "Raise the tub 15 cm (6 in)" in rim.if_not


def test_a_tub_has_a_section_to_draw() -> None:
    tub = measure_of(plan_of(TALL_SEDGE, position=IN_TUB), "no-drain-tub")
    assert tub.section == TubSection(20, 16, 18, 13, -5, 300)


def test_a_pot_without_its_plants_mass_is_weighed_without_it_and_says_so() -> None:
    pot = measure_of(
        plan_of(
            TALL_SEDGE,
            position=replace(IN_TUB, holding="basket"),
            request=replace(FULL, plant_mass_kg=None),
        ),
        "solid-pot",
    )
    assert figure_of(pot, "saturated weight of one pot, without its plant").result.high > 0
    assert "request.plant_mass_kg" in {missing.field for missing in pot.missing}


def test_a_small_pot_fails_its_check() -> None:
    pot = measure_of(plan_of(TALL_SEDGE, position=replace(IN_TUB, holding="basket")), "solid-pot")
    (size,) = [check for check in pot.checks if check.name == "pot volume"]
    assert not size.passes
    assert size.margin.low == pytest.approx(-10)


# --- root barrier


def test_a_barrier_is_60_to_75_cm_deep_and_5_cm_above_ground() -> None:
    """Extension guidance for running bamboo, 24 to 30 in deep, 2 in above ground, 60 mil (from
    memory).
    """
    bog = Place("Invented Bog", "bog", area_m2=20, bank_contact=True)
    barrier = measure_of(
        plan_of(TALL_SEDGE, bog, Position(holding="open-ground", crown_depth_cm=0)), "root-barrier"
    )
    assert barrier.section == BarrierSection(75, 5, 1.5)
    depth = figure_of(barrier, "depth of the barrier").result
    assert (depth.low, depth.high) == (60, 75)
    assert to_si(24, "in", "cm") == pytest.approx(60, abs=1)
    assert figure_of(barrier, "length of sheet").result.low == pytest.approx(12.3)


# --- foam island


def test_an_island_by_hand() -> None:
    """12 pots of 5 L gravel and 2 kg plants on 2 x 1.2 m of XPS type IV (arithmetic of Archimedes'
    principle, similar triangles and the frustum of a cone).

    Pot: 5 L x 2.1 + 2 + 0.5 = 13.0 kg, 156 kg in all. 20 cm at the rim, 16 at the base, 18 high,
        wedged with its rim 2 cm over the deck: hole 20 - 4 x 2 / 18 = 19.56 cm, 0.03004 m2 each,
        deck 2.4 - 0.3604 = 2.0396 m2.
    Lift (1000 x 0.997 - 25) x 0.82 = 797 kg/m3. At 5 cm of freeboard a pot is 18.44 cm wide at the
        water and 11 cm deep: pi 11 (18.44^2 + 18.44 x 16 + 16^2) / 12 = 2.567 L, 30.8 kg in all.
    Thickness (156 - 30.8 + 102.0) / (797 x 2.0396) = 0.1398 m, stacked to 0.150 m.
    """
    island = measure_of(plan_of(), "foam-island")
    assert figure_of(island, "hole").result.low == pytest.approx(19.556, abs=0.001)
    assert figure_of(island, "lift counted on").result.low == pytest.approx(797, abs=0.5)
    assert figure_of(island, "foam thickness needed").result.low == pytest.approx(139.75, abs=0.1)
    section = island.section
    assert isinstance(section, IslandSection)
    assert section.thickness_m == pytest.approx(0.15)
    assert (section.rows, section.columns, section.count) == (3, 6, 12)
    total_m3 = (156 + 0.15 * 2.0396 * (25 + 3)) / 1000
    free = section.freeboard_m
    at_water = 0.19556 - 0.03556 * free / 0.16
    pot = math.pi * (0.16 - free) * (at_water**2 + at_water * 0.16 + 0.16**2) / 12
    assert 2.0396 * (0.15 - free) + 12 * pot == pytest.approx(total_m3, abs=1e-4)
    assert section.metacentre_m is not None
    assert section.gravity_centre_m is not None
    assert section.metacentre_m > section.gravity_centre_m
    assert island.passes


def test_a_straight_pot_without_a_lip_does_not_go_into_its_hole_and_nothing_more_is_sized() -> None:
    straight = replace(FULL, pot_base_diameter_cm=20)
    island = measure_of(plan_of(request=straight), "foam-island")
    assert not next(check for check in island.checks if "base of the pot" in check.name).passes
    assert island.section is None


def test_holes_are_cut_for_the_pots_and_no_more() -> None:
    few = measure_of(plan_of(request=replace(FULL, count=6)), "foam-island").section
    assert isinstance(few, IslandSection)
    assert few.rows * few.columns == 18
    assert few.count == 6


@given(st.floats(10, 60), st.floats(0.3, 0.98), st.floats(8, 50))
def test_a_tapered_pot_always_fits_the_hole_drawn_for_it(
    rim_cm: float, taper: float, height_cm: float
) -> None:
    request = replace(
        FULL,
        count=1,
        pot_diameter_cm=rim_cm,
        pot_base_diameter_cm=rim_cm * taper,
        pot_height_cm=height_cm,
    )
    section = measure_of(plan_of(request=request), "foam-island").section
    if isinstance(section, IslandSection):
        at_deck = diameter_at(
            section.pot_diameter_m, section.pot_base_m, section.pot_height_m, section.rim_above_m
        )
        assert at_deck == pytest.approx(section.hole_diameter_m)
        assert section.pot_base_m <= section.hole_diameter_m < section.pot_diameter_m


def test_holes_keep_their_web() -> None:
    """Three 18 cm holes with 10 cm between and at both ends take 0.94 m (arithmetic)."""
    assert holes_along(0.94, 0.18, 0.10) == 3
    assert holes_along(0.93, 0.18, 0.10) == 2
    assert holes_along(0.05, 0.18, 0.10) == 0


def test_too_many_pots_are_counted_out_and_the_rest_is_not_sized() -> None:
    island = measure_of(plan_of(request=replace(FULL, count=19)), "foam-island")
    (pots,) = [check for check in island.checks if check.name == "pots on the island"]
    assert not pots.passes
    assert island.section is None
    assert island.passes is False


def test_tall_plants_on_a_narrow_island_tip() -> None:
    """Common practice, no source: 3 m sedges on a slab half a metre wide do not stand a 25 m/s
    gust.
    """
    narrow = replace(
        FULL, count=3, island_width_m=0.5, island_length_m=1.5, plant_mass_kg=8, design_wind_m_s=25
    )
    island = measure_of(plan_of(TALL_SEDGE, request=narrow), "foam-island")
    assert island.passes is False
    assert all(way.strength != "holds" for way in island.held)


def test_length_and_width_may_be_given_either_way_round() -> None:
    turned = replace(FULL, island_length_m=1.2, island_width_m=2)
    assert (
        measure_of(plan_of(request=turned), "foam-island").section
        == measure_of(plan_of(), "foam-island").section
    )


def test_islands_stay_within_published_cover_and_depth() -> None:
    """Common Man's Guide to SUDS: at most half the pond; Queensland WetlandInfo: at least 0.8 m
    of water.
    """
    cover = {row["rule"]: row for row in rows("engineering_cover.csv")}
    island = measure_of(plan_of(place=replace(POND, area_m2=4, depth_cm=70)), "foam-island")
    share = next(
        check for check in island.checks if check.name == "share of the pond under the island"
    )
    water = next(check for check in island.checks if check.name == "water under the island")
    assert share.limit.low == float(cover["pond under floating wetlands"]["high"])
    assert water.limit.low == float(cover["water under floating wetlands"]["low"])
    assert not share.passes
    assert not water.passes


@given(
    st.floats(0.1, 20), st.floats(0, 20), st.sampled_from(["eps-xi", "eps-i", "xps-iv", "pe-plank"])
)
@settings(max_examples=40)
def test_more_plant_never_needs_less_foam(mass: float, more: float, foam: str) -> None:
    thickness = [
        figure_of(
            measure_of(plan_of(request=replace(FULL, plant_mass_kg=kg, foam=foam)), "foam-island"),
            "foam thickness needed",
        ).result.low
        for kg in (mass, mass + more)
    ]
    assert thickness[1] >= thickness[0]


@given(st.integers(1, 17))
@settings(max_examples=17)
def test_one_pot_more_never_needs_thinner_foam(count: int) -> None:
    thickness = [
        figure_of(
            measure_of(plan_of(request=replace(FULL, count=n)), "foam-island"),
            "foam thickness needed",
        ).result.low
        for n in (count, count + 1)
    ]
    assert thickness[1] >= thickness[0]


@given(st.floats(0, 40), st.floats(0, 20))
@settings(max_examples=30)
def test_more_wind_never_heels_it_less(wind: float, more: float) -> None:
    heel = [
        figure_of(
            measure_of(plan_of(request=replace(FULL, design_wind_m_s=v)), "foam-island"),
            "heel in the gust",
        ).result.low
        for v in (wind, wind + more)
    ]
    assert heel[1] >= heel[0]


# --- floating ring


def test_a_ring_for_two_fifths_of_a_pond_by_hand() -> None:
    """80 m2 inside: diameter 2 (80 / pi)^0.5 = 10.09 m, boom 31.7 m and a tenth over (geometry)."""
    ring = measure_of(plan_of(FLOATER, position=IN_RING), "floating-ring")
    assert isinstance(ring.section, RingSection)
    assert ring.section.diameter_m == pytest.approx(10.09, abs=0.005)
    assert figure_of(ring, "length of boom to buy").result.low == pytest.approx(34.88, abs=0.01)


def test_a_ring_does_not_stand_a_current_of_0_7_knot() -> None:
    """US Navy Ship Salvage Manual 6: floating matter goes under a boom at 0.7 knot, 0.36 m/s."""
    assert pytest.approx(0.36, abs=0.001) == 0.7 * 1852 / 3600
    moving = replace(POND, flow="slow")
    for current, passes in ((0.1, True), (0.5, False)):
        ring = measure_of(
            plan_of(FLOATER, moving, IN_RING, request=replace(FULL, current_m_s=current)),
            "floating-ring",
        )
        (check,) = [check for check in ring.checks if "current" in check.name]
        assert check.passes is passes


# --- outlet screen


def test_a_screen_by_hand() -> None:
    """5 L/s at 0.06 m/s: 0.0833 m2; 5 mm mesh of 1.6 mm wire is (5/6.6)^2 = 57.4% open
    (identities).
    """
    screen = measure_of(plan_of(), "outlet-screen")
    assert figure_of(screen, "wetted area of the screen").result.low == pytest.approx(
        0.0833, abs=0.0001
    )
    assert figure_of(screen, "open share of the screen").result.low == pytest.approx(
        0.574, abs=0.0005
    )
    clean, blocked = (
        figure_of(screen, "head loss, clean"),
        figure_of(screen, "head loss, half blocked"),
    )
    assert blocked.result.low == pytest.approx(4 * clean.result.low)
    assert isinstance(screen.section, ScreenSection)
    assert screen.section.width_m * screen.section.wetted_height_m == pytest.approx(
        0.0833, abs=0.0001
    )


def test_a_bar_rack_by_hand() -> None:
    """5 L/s at 0.06 m/s, 80% clear, upright: 0.104 m2, so v 0.048 and 0.072 m/s between 20 mm gaps
    and 10 mm bars.

    Area by ESHA's rack formula, loss (V^2 - v^2) / (2 g 0.7) by Metcalf and Eddy, 2.42 (1/2)^(4/3)
    v^2 / 2g by Kirschmer.
    """
    bars = replace(FULL, screen="bars", screen_opening_mm=20, screen_bar_mm=10)
    screen = measure_of(plan_of(request=bars), "outlet-screen")
    v, slot, g2 = 0.048, 0.072, 2 * 9.80665
    assert figure_of(screen, "wetted area of the screen").result.low == pytest.approx(
        0.10417, abs=0.0001
    )
    assert figure_of(screen, "head loss, clean").result.low == pytest.approx(
        (slot**2 - v**2) / g2 / 0.7 * 100
    )
    assert figure_of(screen, "head loss, clean, by Kirschmer").result.low == pytest.approx(
        2.42 * 0.5 ** (4 / 3) * v**2 / g2 * 100
    )


def test_a_leaning_rack_needs_more_area_but_no_more_width_than_an_upright_one() -> None:
    racks = [
        measure_of(
            plan_of(request=replace(FULL, screen="bars", screen_angle_deg=angle)), "outlet-screen"
        ).section
        for angle in (90, 60)
    ]
    upright, leaning = racks
    assert isinstance(upright, ScreenSection)
    assert isinstance(leaning, ScreenSection)
    assert leaning.wetted_height_m > upright.wetted_height_m
    assert leaning.width_m == pytest.approx(upright.width_m)


def test_spores_and_small_seed_pass_a_screen_and_it_says_so() -> None:
    fern = with_traits(FLOATER, spread_modes=("spore", "offset"), height_cm=None)
    screen = measure_of(plan_of(fern, position=IN_RING), "outlet-screen")
    assert any("Spores" in step and "pass" in step for step in screen.steps)
    assert {way.strength for way in screen.held if way.way_out.way == "spore"} == {"does-not-hold"}


def test_a_fine_screen_is_chosen_for_small_floaters_and_holds_large_ones() -> None:
    duckweed = with_traits(FLOATER, height_cm=None, spread_modes=("offset",))
    small = measure_of(plan_of(duckweed, position=IN_RING), "outlet-screen")
    large = measure_of(
        plan_of(with_traits(FLOATER, spread_modes=("offset",)), position=IN_RING), "outlet-screen"
    )
    assert isinstance(small.section, ScreenSection)
    assert isinstance(large.section, ScreenSection)
    assert small.section.opening_mm < large.section.opening_mm
    assert {way.strength for way in small.held} == {"slows"}
    assert {way.strength for way in large.held} == {"holds"}


def test_fragments_are_never_held_by_a_screen() -> None:
    for opening in (1, 2, 5):
        request = replace(FULL, screen_opening_mm=opening)
        screen = measure_of(
            plan_of(WATERWEED, position=Position(crown_depth_cm=80), request=request),
            "outlet-screen",
        )
        assert all(way.strength != "holds" for way in screen.held if way.way_out.way == "fragment")


def test_a_screen_that_overtops_half_blocked_holds_nothing() -> None:
    tight = replace(FULL, screen_head_cm=0.3)
    screen = measure_of(
        plan_of(with_traits(FLOATER, spread_modes=("offset",)), position=IN_RING, request=tight),
        "outlet-screen",
    )
    assert screen.passes is False
    assert all(way.strength != "holds" for way in screen.held)


def test_the_flow_of_an_outlet_pipe_stands_in_for_the_design_flow() -> None:
    """100 mm at 1.5 m of head, Cd 0.6: 25.6 L/s (engineering_weirs, orifice)."""
    pipe = replace(
        FULL, outlet_design_flow_l_s=None, outlet_pipe_diameter_mm=100, outlet_pipe_head_cm=150
    )
    screen = measure_of(plan_of(request=pipe), "outlet-screen")
    assert figure_of(screen, "flow through the outlet pipe").result.low == pytest.approx(
        25.56, abs=0.02
    )


@given(st.floats(0.1, 500), st.floats(1, 3))
@settings(max_examples=30)
def test_more_flow_never_needs_less_screen(flow: float, factor: float) -> None:
    area = [
        figure_of(
            measure_of(plan_of(request=replace(FULL, outlet_design_flow_l_s=q)), "outlet-screen"),
            "wetted area of the screen",
        ).result.low
        for q in (flow, flow * factor)
    ]
    assert area[1] >= area[0]


# --- freeboard


def test_a_pond_in_a_storm_by_hand() -> None:
    """100 mm on 200 m2 and 1,000 m2 of CN 74 (TR-55 eq. 2-3 and a volume balance).

    S = 25400/74 - 254 = 89.24 mm; Q = (100 - 17.85)^2 / (100 + 71.39) = 39.38 mm; 20 + 39.4 = 59.4
    m3; rise 29.7 cm.
    """
    storm = measure_of(plan_of(), "freeboard")
    assert figure_of(storm, "runoff depth Q").result.low == pytest.approx(39.38, abs=0.01)
    assert figure_of(storm, "water that the storm brings").result.low == pytest.approx(
        59.38, abs=0.01
    )
    assert figure_of(storm, "rise of the water").result.low == pytest.approx(29.69, abs=0.01)
    assert isinstance(storm.section, FreeboardSection)
    assert storm.passes
    assert any("once in 10 years" in step and "65.1%" in step for step in storm.steps)


NO_SPILLWAY = replace(FULL, spillway=None)


def test_a_pond_that_overflows_says_so_and_how_often() -> None:
    storm = measure_of(plan_of(request=replace(NO_SPILLWAY, freeboard_cm=20)), "freeboard")
    (check,) = [check for check in storm.checks if check.name == "freeboard"]
    assert not check.passes
    assert "overflows in this storm" in check.if_not
    assert any("water over its rim" in step for step in storm.steps)
    assert {way.strength for way in storm.held} == {"does-not-hold"}


def test_a_spillway_governs_before_the_rim() -> None:
    """Water leaves where it first can: over the crest, 20 cm up, whatever the bank above it."""
    storm = measure_of(plan_of(request=replace(FULL, freeboard_cm=20)), "freeboard")
    names = {check.name for check in storm.checks}
    assert "freeboard" not in names
    (crest,) = [check for check in storm.checks if check.name == "room below the spillway crest"]
    assert not crest.passes
    assert "screen it" in crest.if_not
    assert "raise the rim" not in crest.if_not.lower()
    assert any("over its spillway" in step for step in storm.steps)
    assert isinstance(storm.section, FreeboardSection)
    assert storm.section.rise_cm == 20


def test_without_a_storm_the_largest_rain_that_stays_in_is_still_given() -> None:
    request = replace(FULL, storm_depth_mm=None)
    storm = measure_of(plan_of(request=request), "freeboard")
    rain_mm = figure_of(storm, "largest rain that stays in").result.low
    again = measure_of(plan_of(request=replace(FULL, storm_depth_mm=rain_mm)), "freeboard")
    assert figure_of(again, "rise of the water").result.low == pytest.approx(40, abs=0.01)
    assert "request.storm_depth_mm" in {missing.field for missing in storm.missing}


def test_parts_of_the_catchment_are_weighted() -> None:
    """TR-55 example 2-2: CN 70, 80 and 74 on 75, 100 and 75 acres weigh to 75 (from memory)."""
    parts = (CoverPart(75, 70), CoverPart(100, 80), CoverPart(75, 74))
    storm = measure_of(plan_of(request=replace(FULL, cover_parts=parts)), "freeboard")
    assert round(figure_of(storm, "curve number of the catchment").result.low) == 75


def test_sealed_ground_raises_the_curve_number_of_its_part() -> None:
    """TR-55 example 2-4 on C soil: CN 74, a quarter sealed, half of that unconnected, gives 78
    (from memory).
    """
    parts = (CoverPart(100, 74, impervious_share=0.25, unconnected_share=0.5),)
    storm = measure_of(plan_of(request=replace(FULL, cover_parts=parts)), "freeboard")
    assert int(figure_of(storm, "curve number of the catchment").result.low) == 78
    connected = (CoverPart(100, 61, impervious_share=0.35),)
    storm = measure_of(plan_of(request=replace(FULL, cover_parts=connected)), "freeboard")
    assert round(figure_of(storm, "curve number of the catchment").result.low) == 74


@given(
    st.floats(0, 500),
    st.floats(0, 300),
    st.floats(0, 20_000),
    st.floats(30, 100),
    st.sampled_from([None, 0.0, 2.0]),
)
@settings(max_examples=60)
def test_a_larger_storm_never_needs_less_freeboard(
    rain: float, more: float, ground: float, number: float, slope: float | None
) -> None:
    needed = []
    for depth in (rain, rain + more):
        request = replace(
            NO_SPILLWAY,
            storm_depth_mm=depth,
            catchment_area_m2=ground,
            curve_number=number,
            bank_slope=slope,
        )
        needed.append(
            figure_of(
                measure_of(plan_of(request=request), "freeboard"), "freeboard needed"
            ).result.low
        )
    assert needed[1] >= needed[0] - 1e-9


@pytest.mark.parametrize("kind", ["broad-crested", "sharp-crested", "v-notch-90"])
def test_each_spillway_gives_its_flow_back_at_the_head_found(kind: str) -> None:
    storm = measure_of(plan_of(request=replace(FULL, spillway=kind)), "freeboard")  # type: ignore[arg-type]
    head_m = figure_of(storm, "water over the crest").result.low / 100
    flow = figure_of(storm, "peak flow to the spillway").result.low
    found = {
        "broad-crested": broad_crested_m3_s(2, head_m, 0.85),
        "sharp-crested": sharp_crested_m3_s(2, head_m, 1.84),
        "v-notch-90": hydraulics.v_notch_90_m3_s(head_m),
    }[kind]
    assert found == pytest.approx(flow, rel=1e-6)


# --- harvest and autumn


def test_harvest_interval_by_hand() -> None:
    """Cover held between 20% and 40%: ln(0.4 x 0.8 / (0.2 x 0.6)) = 0.981; at 7 days to double
    9.9 days, at 21, 29.7 (identity).
    """
    cut = measure_of(plan_of(), "harvest")
    days = figure_of(cut, "days between harvests").result
    assert [days.low, days.high] == pytest.approx([9.906, 29.72], abs=0.01)
    assert figure_of(cut, "harvests in a season").result.high == pytest.approx(
        180 / 9.906, abs=0.01
    )


def test_a_harvest_goes_to_dry_land_away_from_water() -> None:
    cut = measure_of(plan_of(), "harvest")
    assert any("dry ground" in step and "above flood level" in step for step in cut.steps)


def test_without_a_doubling_time_the_mass_is_still_given() -> None:
    cut = measure_of(plan_of(request=replace(FULL, doubling_days=None)), "harvest")
    assert {figure.name for figure in cut.figures} == {"wet mass of one harvest"}
    assert "doubling_days" in {missing.field for missing in cut.missing}


def test_the_plants_own_doubling_time_stands_in() -> None:
    cut = measure_of(
        plan_of(FLOATER, position=IN_RING, request=replace(FULL, doubling_days=None)), "harvest"
    )
    assert figure_of(cut, "days between harvests").result.low > 0


@given(st.floats(1, 30), st.floats(1, 3), st.floats(0.1, 0.66))
@settings(max_examples=30)
def test_faster_growth_never_lengthens_the_harvest_interval(
    doubling: float, factor: float, wanted: float
) -> None:
    days = [
        figure_of(
            measure_of(
                plan_of(request=replace(FULL, doubling_days=(td, td), wanted_cover_share=wanted)),
                "harvest",
            ),
            "days between harvests",
        ).result.low
        for td in (doubling, doubling * factor)
    ]
    assert days[1] >= days[0] - 1e-9


def test_autumn_removal_is_one_to_three_weeks_before_the_first_frost() -> None:
    """Common practice, no source: 15 October less 21 and 7 days."""
    removal = measure_of(
        plan_of(FLOATER, position=IN_RING, request=replace(FULL, duty="destroy by burning")),
        "autumn-removal",
    )
    assert any("between 24 September and 8 October" in step for step in removal.steps)
    assert any("destroy by burning" in step for step in removal.steps)


def test_autumn_removal_without_a_frost_date_asks_for_it() -> None:
    removal = measure_of(
        plan_of(FLOATER, position=IN_RING, climate=Climate("6b")), "autumn-removal"
    )
    assert {missing.field for missing in removal.missing} == {"climate.first_frost"}
    assert removal.steps


def test_removal_in_january_counts_back_into_the_year_before() -> None:
    removal = measure_of(
        plan_of(CREEPER, climate=Climate("4a", first_frost="01-05")), "autumn-removal"
    )
    assert any("29 December" in step for step in removal.steps)


def test_on_an_island_where_koi_graze_a_spreading_plant_grows_little_past_the_edge() -> None:
    """Common practice, no source (``tests/checks/trade_facts.csv``)."""
    grazed = measure_of(plan_of(), "foam-island")
    assert any("little past the edge" in step for step in grazed.steps)
    alone = measure_of(plan_of(place=replace(POND, grazing_fish=False)), "foam-island")
    assert not any("koi" in step for step in alone.steps)
