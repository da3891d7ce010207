"""Fit: common-practice cases on catalogue plants, winter classes, unit systems, doubt."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import BadRequest
from service.fit import Fit, fit, site_zones
from service.fit.values import VERDICTS
from service.store.library import Library
from service.values.plants import Plant, Range, Traits
from service.values.quantities import to_si, to_us
from service.values.site import Climate, Place, Position
from service.values.vocabulary import PlantId

ZONE_6 = Climate("6b", first_frost="10-15")
POND = Place(
    "Invented Pond",
    "pond",
    area_m2=100,
    depth_cm=90,
    flow="still",
    light="sun",
    grazing_fish=False,
    freezing_depth_cm=20,
)
BROOK = Place(
    "Invented Brook",
    "stream",
    depth_cm=30,
    flow="moving",
    light="sun",
    grazing_fish=False,
    freezing_depth_cm=10,
)
BASKET = Position(crown_depth_cm=10, holding="basket", soil="aquatic-clay", container_volume_l=40)
PLANT = Plant(
    PlantId("invented"),
    "Inventa media",
    "species",
    "Inventa",
    traits=Traits(
        growth_form="emergent",
        height_cm=Range(60, 120),
        depth_cm=Range(0, 30),
        flow=("still", "slow"),
        light=("sun", "part-shade"),
        zone_min=4,
        zone_max=9,
        perennating_organ="rhizome",
        frost_kill="top-only",
    ),
)
LILY = replace(
    PLANT, traits=replace(PLANT.traits, growth_form="floating-leaved", depth_cm=Range(30, 150))
)


def with_traits(plant: Plant, **traits: object) -> Plant:
    return replace(plant, traits=replace(plant.traits, **traits))  # type: ignore[arg-type]


def plant(library: Library, plant_id: str) -> Plant:
    return library.plants[PlantId(plant_id)]


# --- cases of common practice, no source


def test_a_dwarf_and_a_tall_form_of_one_genus_in_30_cm_of_moving_water(library: Library) -> None:
    """The dwarf bears the current but sits too deep; the tall one bears the depth but not the
    current.
    """
    here = Position(crown_depth_cm=30, holding="basket", soil="aquatic-clay", container_volume_l=40)
    dwarf = fit(plant(library, "typha-minima"), BROOK, here, ZONE_6)
    tall = fit(plant(library, "typha-latifolia"), BROOK, here, ZONE_6)
    assert dwarf.verdict == "fits-with-change"
    change = dwarf.aspect("depth").change
    assert change is not None
    assert change.text == "Raise the basket 15 cm (6 in)."
    assert dwarf.aspect("flow").verdict == "fits"
    assert tall.aspect("depth").verdict == "fits"
    assert tall.aspect("flow").verdict == tall.verdict == "does-not-fit"


def test_a_zone_8_perennial_at_a_zone_6_site(library: Library) -> None:
    """Umbrella sedge: grown for one season, lifted two weeks before the first frost."""
    sedge = plant(library, "cyperus-alternifolius")
    assert sedge.traits.zone_min == 8
    found = fit(sedge, POND, replace(BASKET, crown_depth_cm=10), ZONE_6)
    assert found.winter == "tender"
    assert found.verdict == "fits-with-change"
    assert "by 1 October" in found.autumn
    assert "not a tested limit" in found.aspect("winter").found


def test_creeping_pennywort_and_an_edible_trailing_herb_on_an_island_with_grazing_fish(
    library: Library,
) -> None:
    fishy = replace(POND, grazing_fish=True)
    island = Position(crown_depth_cm=0, holding="foam-island", soil="gravel", container_volume_l=15)
    for plant_id in ("hydrocotyle-ranunculoides", "oenanthe-javanica"):
        grazed = fit(plant(library, plant_id), fishy, island, ZONE_6).aspect("grazing")
        assert grazed.verdict == "fits-with-change", plant_id
        assert grazed.change is not None
        assert "underside" in grazed.change.text


def test_tall_tropical_sedges_in_gravel_filled_bogs_beside_a_pond(library: Library) -> None:
    bog = Place(
        "Invented Gravel Bog",
        "bog",
        area_m2=12,
        depth_cm=0,
        light="sun",
        grazing_fish=False,
        freezing_depth_cm=40,
    )
    in_gravel = Position(
        crown_depth_cm=0, holding="no-drain-tub", soil="gravel", container_volume_l=60
    )
    for plant_id in ("cyperus-papyrus", "cyperus-giganteus"):
        found = fit(plant(library, plant_id), bog, in_gravel, ZONE_6)
        assert found.winter == "tender", plant_id
        assert found.aspect("depth").verdict == "fits"
        assert found.aspect("soil").verdict == "fits"
        assert found.verdict == "fits-with-change"
        assert found.autumn


def test_a_floater_does_not_fit_a_bog_and_takes_no_basket(library: Library) -> None:
    lettuce = plant(library, "pistia-stratiotes")
    bog = replace(POND, kind="bog")
    assert fit(lettuce, bog, Position(), ZONE_6).aspect("surface").verdict == "does-not-fit"
    potted = fit(lettuce, POND, BASKET, ZONE_6).aspect("surface")
    assert potted.verdict == "fits-with-change"
    assert fit(lettuce, POND, Position(), ZONE_6).winter == "tender"


def test_peat_under_water_is_changed_for_clay() -> None:
    """University of Illinois Extension, Planting the Water Garden Container: clay with a gravel
    cap, no potting mix.
    """
    wet = fit(PLANT, POND, replace(BASKET, soil="peat-mix"), ZONE_6).aspect("soil")
    assert wet.verdict == "fits-with-change"
    assert wet.change is not None
    assert "clay" in wet.change.text
    dry = fit(PLANT, POND, replace(BASKET, soil="peat-mix", crown_depth_cm=0), ZONE_6).aspect(
        "soil"
    )
    assert dry.verdict == "fits"


# --- depth


@pytest.mark.parametrize(
    ("crown_cm", "verdict", "words"),
    [
        (0, "fits", ""),
        (30, "fits", ""),
        (45, "fits-with-change", "Raise the basket 15 cm (6 in)."),
        (-5, "fits", ""),
        (-25, "fits-with-change", "Lower the basket 25 cm (10 in)."),
    ],
)
def test_depth_over_the_crown(crown_cm: float, verdict: str, words: str) -> None:
    depth = fit(PLANT, POND, replace(BASKET, crown_depth_cm=crown_cm), ZONE_6).aspect("depth")
    assert depth.verdict == verdict
    assert (depth.change.text if depth.change else "") == words


def test_open_ground_lies_at_the_waters_own_depth() -> None:
    depth = fit(PLANT, POND, Position(holding="open-ground"), ZONE_6).aspect("depth")
    assert depth.change is not None
    assert depth.change.by is not None
    assert depth.change.by.low == pytest.approx(60)


def test_a_lily_does_not_fit_water_that_is_too_shallow_however_it_is_set() -> None:
    shallow = replace(POND, depth_cm=20)
    for position in (Position(), BASKET, Position(holding="open-ground")):
        assert fit(LILY, shallow, position, ZONE_6).aspect("depth").verdict == "does-not-fit"


# --- winter


@pytest.mark.parametrize(
    ("low_c", "high_c", "zones"),
    [
        (-20.5, -18.0, (6, 6)),
        (-25.0, -18.0, (5, 6)),
        (-51.0, -51.0, (1, 1)),
        (20.0, 20.0, (13, 13)),
    ],
)
def test_zones_follow_the_mean_annual_extreme_minimum(
    low_c: float, high_c: float, zones: tuple[int, int]
) -> None:
    """USDA map: zone 6 is -10 to 0 F, -23.3 to -17.8 C; zone 1 below -50 F; zone 13 above 60 F."""
    found = site_zones(Climate(extreme_minimum_c=(low_c, high_c)))
    assert found is not None
    assert (found.low, found.high) == zones


@pytest.mark.parametrize("zone", ["0a", "14", "six", "6c", ""])
def test_a_zone_off_the_map_is_turned_away(zone: str) -> None:
    with pytest.raises(BadRequest, match="not on the map"):
        fit(PLANT, POND, BASKET, Climate(zone))


def test_a_hardy_plant_is_hardy_and_the_zone_is_no_tested_limit() -> None:
    winter = fit(PLANT, POND, BASKET, ZONE_6)
    assert winter.winter == "hardy"
    assert "not a tested limit" in winter.aspect("winter").found


def test_a_lily_is_hardy_below_the_ice_and_is_lowered_when_it_is_not() -> None:
    deep = fit(LILY, POND, replace(BASKET, crown_depth_cm=40), ZONE_6)
    assert deep.winter == "hardy-below-ice"
    assert deep.aspect("winter").verdict == "fits"
    thick = fit(
        LILY, replace(POND, freezing_depth_cm=50), replace(BASKET, crown_depth_cm=40), ZONE_6
    )
    assert thick.aspect("winter").verdict == "fits-with-change"
    assert "Lower it 20 cm (8 in)" in thick.autumn


def test_ice_that_nobody_has_measured_leaves_a_shallow_lily_open() -> None:
    found = fit(
        LILY, replace(POND, freezing_depth_cm=None), replace(BASKET, crown_depth_cm=30), ZONE_6
    )
    assert found.winter == "unknown"
    assert "place.freezing_depth_cm" in {missing.field for missing in found.missing}


def test_two_zones_short_a_resting_crown_may_live_below_the_ice() -> None:
    tender = with_traits(LILY, zone_min=8)
    deep = fit(tender, POND, replace(BASKET, crown_depth_cm=60), ZONE_6)
    shallow = fit(tender, POND, replace(BASKET, crown_depth_cm=10), ZONE_6)
    assert deep.winter == "hardy-below-ice"
    assert shallow.winter == "tender"
    assert "30 cm" in shallow.autumn


def test_frost_that_kills_to_the_root_is_not_helped_by_depth() -> None:
    found = fit(
        with_traits(LILY, zone_min=8, frost_kill="yes"),
        POND,
        replace(BASKET, crown_depth_cm=80),
        ZONE_6,
    )
    assert found.winter == "tender"
    assert "dies at the first hard freeze" in found.aspect("winter").found


def test_a_climate_that_lies_on_either_side_of_the_zone_is_unknown() -> None:
    found = fit(with_traits(PLANT, zone_min=6), POND, BASKET, Climate(extreme_minimum_c=(-25, -19)))
    assert found.winter == "unknown"
    assert found.aspect("winter").verdict == "unknown"


def test_a_raised_tub_costs_a_zone() -> None:
    tub = replace(BASKET, holding="no-drain-tub", crown_depth_cm=0)
    found = fit(with_traits(PLANT, zone_min=6), POND, tub, ZONE_6)
    assert found.aspect("winter").verdict == "fits-with-change"


def test_a_site_warmer_than_it_is_grown_does_not_fit() -> None:
    assert fit(PLANT, POND, BASKET, Climate("10b")).aspect("winter").verdict == "does-not-fit"


# --- flow, light, grazing


@pytest.mark.parametrize(
    ("needs", "here", "verdict"),
    [
        (("still",), "still", "fits"),
        (("still",), "slow", "fits-with-change"),
        (("still", "slow"), "moving", "does-not-fit"),
        (("slow", "moving"), "still", "fits-with-change"),
        (("moving",), "still", "does-not-fit"),
        (("moving",), "slow", "does-not-fit"),
    ],
)
def test_current(needs: tuple[str, ...], here: str, verdict: str) -> None:
    found = fit(with_traits(PLANT, flow=needs), POND, replace(BASKET, flow=here), ZONE_6)  # type: ignore[arg-type]
    assert found.aspect("flow").verdict == verdict


@pytest.mark.parametrize(
    ("form", "holding", "crown_cm", "verdict"),
    [
        # Sedges and rushes are planted along stream banks at the waterline; they hold the bank.
        ("wet-soil", "open-ground", 0, "fits-with-change"),
        ("wet-soil", "open-ground", -10, "fits-with-change"),
        ("emergent", "open-ground", 0, "fits-with-change"),
        ("wet-soil", None, -5, "fits-with-change"),
        # Under water the current has hold of it.
        ("wet-soil", "open-ground", 5, "does-not-fit"),
        ("emergent", "open-ground", 20, "does-not-fit"),
        # Where the depth is not said, nobody knows that it is out of the current.
        ("wet-soil", None, None, "does-not-fit"),
        # A pot or an island stands in the stream, whatever the water over the crown.
        ("wet-soil", "basket", 0, "does-not-fit"),
        ("emergent", "foam-island", 0, "does-not-fit"),
        # Leaves that lie on the water, or grow in it, have no place on a bank.
        ("floating-leaved", "open-ground", 0, "does-not-fit"),
        ("submerged", "open-ground", 0, "does-not-fit"),
    ],
)
def test_a_plant_of_the_edge_on_the_bank_of_moving_water(
    form: str, holding: str | None, crown_cm: float | None, verdict: str
) -> None:
    """Common practice, no source: what an experienced planter of stream banks would say."""
    plant = with_traits(PLANT, flow=("still", "slow"), growth_form=form)
    position = replace(BASKET, flow="moving", holding=holding, crown_depth_cm=crown_cm)  # type: ignore[arg-type]
    assert fit(plant, POND, position, ZONE_6).aspect("flow").verdict == verdict


@pytest.mark.parametrize(
    ("needs", "here", "verdict"),
    [
        (("sun",), "part-shade", "fits-with-change"),
        (("sun",), "shade", "does-not-fit"),
        (("shade",), "part-shade", "fits-with-change"),
    ],
)
def test_light(needs: tuple[str, ...], here: str, verdict: str) -> None:
    found = fit(with_traits(PLANT, light=needs), POND, replace(BASKET, light=here), ZONE_6)  # type: ignore[arg-type]
    assert found.aspect("light").verdict == verdict


def test_the_positions_own_light_and_flow_stand_before_the_places() -> None:
    found = fit(PLANT, POND, replace(BASKET, light="shade", flow="moving"), ZONE_6)
    assert found.aspect("light").verdict != "fits"
    assert found.aspect("flow").verdict == "does-not-fit"


def test_tall_growth_needs_no_word_on_fish_but_low_growth_does() -> None:
    unknown = replace(POND, grazing_fish=None)
    assert fit(PLANT, unknown, BASKET, ZONE_6).aspect("grazing").verdict == "fits"
    low = with_traits(PLANT, height_cm=Range(5, 20))
    assert fit(low, unknown, BASKET, ZONE_6).aspect("grazing").verdict == "unknown"


# --- the whole


def test_with_nothing_known_everything_is_open_and_each_fact_is_named_with_where_to_find_it() -> (
    None
):
    bare = Plant(PlantId("bare"), "Inventa ignota", "species", "Inventa")
    found = fit(bare, Place("Invented", "pond"), Position(), Climate())
    assert found.verdict == "unknown"
    assert {missing.field for missing in found.missing} >= {
        "plant.depth_cm",
        "plant.zone_min",
        "climate.hardiness_zone",
        "plant.flow",
    }
    assert all(missing.look_up for missing in found.missing)
    deciding = {"depth", "flow", "light", "winter", "surface"}
    assert all(
        missing.fact in found.summary for missing in found.missing if missing.needed_for in deciding
    )


def test_every_catalogue_plant_gets_an_answer_in_a_well_described_pond(library: Library) -> None:
    names = {"depth", "flow", "light", "winter", "surface", "soil", "grazing"}
    for grown in library.plants.values():
        found = fit(grown, POND, BASKET, ZONE_6)
        assert {aspect.name for aspect in found.aspects} == names
        assert found.verdict == min(
            (aspect.verdict for aspect in found.aspects), key=VERDICTS.index
        )
        assert (found.verdict == "unknown") <= bool(found.missing)
        for aspect in found.aspects:
            assert (aspect.verdict == "fits-with-change") == (aspect.change is not None), (
                grown.accepted_name,
                aspect,
            )


def test_no_text_calls_a_plant_safe_or_legal(library: Library) -> None:
    for grown in list(library.plants.values())[::7]:
        text = repr(fit(grown, POND, BASKET, ZONE_6)).lower()
        assert " legal" not in text
        assert "safe" not in text


@given(
    crown_in=st.floats(-10, 60),
    pond_in=st.floats(1, 120),
    low_in=st.floats(0, 20),
    span_in=st.floats(0, 40),
    ice_in=st.floats(0, 40),
    gallons=st.floats(0.3, 30),
)
@settings(max_examples=150)
def test_fit_is_one_answer_in_both_unit_systems(
    crown_in: float, pond_in: float, low_in: float, span_in: float, ice_in: float, gallons: float
) -> None:
    """The same planting told in inches and gallons, and told in centimetres and litres through
    them and back.
    """

    def answer(cm: list[float], litres: float) -> Fit:
        crown, pond, low, high, ice = cm
        plant_ = with_traits(LILY, depth_cm=Range(low, high), zone_min=7)
        place = replace(POND, depth_cm=pond, freezing_depth_cm=ice)
        return fit(
            plant_, place, replace(BASKET, crown_depth_cm=crown, container_volume_l=litres), ZONE_6
        )

    told_cm = [
        to_si(value, "in", "cm") for value in (crown_in, pond_in, low_in, low_in + span_in, ice_in)
    ]
    litres = to_si(gallons, "gal", "L")
    back_cm = []
    for value in told_cm:
        inches = to_us(value, "cm")
        assert inches is not None
        back_cm.append(to_si(inches[0], "in", "cm"))
    us_litres = to_us(litres, "L")
    assert us_litres is not None
    first, second = answer(told_cm, litres), answer(back_cm, to_si(us_litres[0], "gal", "L"))
    assert first.verdict == second.verdict
    assert [aspect.verdict for aspect in first.aspects] == [
        aspect.verdict for aspect in second.aspects
    ]
    for one, other in zip(first.aspects, second.aspects, strict=True):
        if one.change and one.change.by:
            assert other.change is not None
            assert other.change.by is not None
            assert one.change.by.low == pytest.approx(other.change.by.low, abs=1e-6)
            us = one.change.by.us()
            assert us is not None
            assert to_si(us[0], us[2], one.change.by.unit) == pytest.approx(one.change.by.low)


@given(crown=st.floats(-20, 120))
@settings(max_examples=60)
def test_making_the_change_makes_the_depth_fit(crown: float) -> None:
    depth = fit(PLANT, POND, replace(BASKET, crown_depth_cm=crown), ZONE_6).aspect("depth")
    if depth.change is None or depth.change.by is None:
        return
    moved = (
        crown - depth.change.by.low
        if depth.change.text.startswith("Raise")
        else crown + depth.change.by.low
    )
    assert (
        fit(PLANT, POND, replace(BASKET, crown_depth_cm=moved), ZONE_6).aspect("depth").verdict
        == "fits"
    )
