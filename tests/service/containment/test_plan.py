"""Which measures are chosen, what they hold, and what is said where nothing does."""

from dataclasses import fields, replace
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.containment import ContainmentRequest, CoverPart, design, disposal
from service.containment.parameters import measure_rules, routes_of_way
from service.errors import BadRequest, UnknownValue
from service.values.plants import Plant, Traits
from service.values.site import Climate, ExitRoute, Place, Position
from service.values.vocabulary import PlantId, SpreadMode
from tests.service.containment.plans import (
    CLIMATE,
    CREEPER,
    FLOATER,
    FULL,
    ON_ISLAND,
    POND,
    TALL_SEDGE,
    WATERWEED,
    measure_of,
    plan_of,
    with_traits,
)

IN_BASKET = Position(crown_depth_cm=5, holding="basket", soil="aquatic-clay", container_volume_l=20)
NOTHING_SAID = ContainmentRequest()


def test_a_prohibited_plant_gets_disposal_and_no_measure() -> None:
    plan = plan_of(request=replace(FULL, prohibited=True, duty="destroy on notice"))
    assert plan.verdict == "prohibited"
    assert plan.measures == ()
    assert plan.disposal is not None
    assert plan.disposal.duty == "destroy on notice"
    assert any("Report" in line for line in plan.disposal.reporting)


def test_disposal_stands_alone_and_carries_the_duty() -> None:
    steps = disposal(CREEPER, "report within five days")
    assert steps.plant_id == CREEPER.plant_id
    assert steps.duty == "report within five days"
    assert any("ask the state authority" in step for step in steps.steps)


def test_a_submerged_plant_of_fragments_is_held_by_nothing_where_there_is_an_outlet() -> None:
    plan = plan_of(WATERWEED, position=Position(crown_depth_cm=80, holding="open-ground"))
    assert plan.verdict == "nothing-holds"
    assert "Nothing holds" in plan.statement
    assert plan.drifts_off


def test_an_outlet_that_nobody_ruled_out_counts_as_there() -> None:
    plan = plan_of(WATERWEED, replace(POND, outlet=None), Position(crown_depth_cm=80))
    assert plan.verdict == "nothing-holds"
    assert "place.outlet" in {missing.field for missing in plan.missing}


def test_the_same_plant_in_a_closed_tank_has_no_way_out_stated() -> None:
    closed = Place(
        "Invented Tank",
        "pond",
        4,
        80,
        "still",
        "sun",
        False,
        None,
        False,
        False,
        False,
        True,
        False,
        False,
    )
    plan = plan_of(WATERWEED, closed, Position(crown_depth_cm=70))
    assert plan.verdict == "no-way-out-stated"
    assert plan.ways_out == ()


def test_measures_stand_in_order_of_how_much_they_hold() -> None:
    plan = plan_of(TALL_SEDGE, position=IN_BASKET)
    held = [sum(way.strength == "holds" for way in measure.held) for measure in plan.measures]
    assert held == sorted(held, reverse=True)


def test_each_measure_says_what_it_does_not_hold() -> None:
    for rule in measure_rules():
        assert rule.limits, rule.kind


def test_seed_by_birds_is_never_held() -> None:
    for plant in (CREEPER, TALL_SEDGE, FLOATER):
        plan = plan_of(plant)
        assert ("seed", "birds-and-visitors") in {(way.way, way.route) for way in plan.unheld}
        assert plan.verdict != "each-way-met"


def test_what_the_statement_says_is_not_held_is_not_held() -> None:
    plan = plan_of(TALL_SEDGE, position=IN_BASKET)
    held = {
        way.way_out for measure in plan.measures for way in measure.held if way.strength == "holds"
    }
    assert set(plan.unheld) == set(plan.ways_out) - held
    assert "seed" in plan.statement


def test_a_plant_whose_ways_are_unknown_has_all_of_them() -> None:
    plant = Plant(
        PlantId("unknown"),
        "Inventa ignota",
        "species",
        "Inventa",
        traits=Traits(growth_form="emergent"),
    )
    plan = plan_of(plant)
    assert {way.way for way in plan.ways_out} >= {"seed", "fragment", "rhizome", "tuber"}
    assert "plant.spread_modes" in {missing.field for missing in plan.missing}


def test_a_liner_closes_the_bank_unless_contact_is_stated() -> None:
    lined = replace(POND, bank_contact=None, lined=True)
    assert "bank" not in {way.route for way in plan_of(place=lined).ways_out}
    assert "bank" in {
        way.route for way in plan_of(place=replace(lined, bank_contact=True)).ways_out
    }


def test_a_stream_runs_on_whether_or_not_an_outlet_is_named() -> None:
    stream = Place("Invented Brook", "stream", flow="moving")
    plan = plan_of(CREEPER, stream, Position(crown_depth_cm=5, holding="open-ground"))
    assert any(way.route == "outlet" and way.stated for way in plan.ways_out)
    assert "outlet-screen" not in {measure.kind for measure in plan.measures}


def test_nothing_is_worked_out_from_facts_that_are_missing() -> None:
    """With nothing said, no figure rests on a size, a storm, a flow or a share, and each such
    fact is listed.
    """
    bare = Place("Invented Pond", "pond")
    plan = design(CREEPER, bare, Position(), Climate(), NOTHING_SAID)
    for measure in plan.measures:
        for figure in measure.figures:
            assert not any(given.known.how_known == "user" for given in figure.inputs), (
                measure.kind,
                figure.name,
            )
        assert measure.passes is not True
    asked = {missing.field for missing in plan.missing}
    assert {
        "place.area_m2",
        "request.storm_depth_mm",
        "request.outlet_design_flow_l_s",
        "request.foam",
        "place.outlet",
    } <= asked
    assert all(missing.look_up and missing.needed_for for missing in plan.missing)


NOT_A_NUMBER = ("prohibited", "duty", "cover_parts", "screen", "spillway")
NUMBERS = [field.name for field in fields(ContainmentRequest) if field.name not in NOT_A_NUMBER]


@pytest.mark.parametrize("name", NUMBERS)
def test_leaving_out_any_one_fact_never_raises_the_design_and_never_makes_it_pass_more(
    name: str,
) -> None:
    """A fact taken away leaves a partial design with as much or less held, and it is named if
    the design waits for it.
    """
    lacking = replace(FULL, **{name: None})  # type: ignore[arg-type]
    positions = (
        ON_ISLAND,
        Position(crown_depth_cm=0, holding="basket", soil="gravel"),
        Position(holding="floating-ring"),
    )
    for plant, position in zip((CREEPER, TALL_SEDGE, FLOATER), positions, strict=True):
        full, partial = (
            plan_of(plant, position=position),
            plan_of(plant, position=position, request=lacking),
        )
        assert set(partial.unheld) >= set(full.unheld)
        lost = {f.name for m in full.measures for f in m.figures} - {
            f.name for m in partial.measures for f in m.figures
        }
        if lost:
            assert set(partial.missing) != set(full.missing), (name, lost)


def test_the_same_request_gives_the_same_plan() -> None:
    assert plan_of() == plan_of()


def test_no_text_calls_a_plant_or_design_legal_or_safe() -> None:
    for plant in (CREEPER, TALL_SEDGE, FLOATER, WATERWEED):
        text = repr(plan_of(plant, position=IN_BASKET)).lower()
        for word in (" legal", "safe to", "is safe", "allowed in", "guarantee"):
            assert word not in text


@given(
    st.lists(
        st.sampled_from(["outlet", "overflow", "flood_prone", "bank_contact", "visited"]),
        unique=True,
    )
)
@settings(max_examples=32)
def test_closing_routes_never_adds_a_way_out(closed: list[str]) -> None:
    place = replace(POND, **dict.fromkeys(closed, False))  # type: ignore[arg-type]
    assert set(plan_of(place=place).ways_out) <= set(plan_of().ways_out)


def test_every_route_and_way_of_the_vocabulary_is_in_the_data_file() -> None:
    assert set(routes_of_way()) == set(get_args(SpreadMode))
    assert {route for routes in routes_of_way().values() for route in routes} == set(
        get_args(ExitRoute)
    )


@pytest.mark.parametrize(
    ("request_", "pointer"),
    [
        (replace(FULL, curve_number=101), "/curve_number"),
        (replace(FULL, storm_depth_mm=-1), "/storm_depth_mm"),
        (replace(FULL, wanted_cover_share=1.2), "/wanted_cover_share"),
        (replace(FULL, outlet_design_flow_l_s=0), "/outlet_design_flow_l_s"),
        (replace(FULL, storm_return_years=0.5), "/storm_return_years"),
        (replace(FULL, island_width_m=float("nan")), "/island_width_m"),
        (replace(FULL, doubling_days=(9, 3)), "/doubling_days"),
        (replace(FULL, cover_parts=(CoverPart(10, 120),)), "/cover_parts/0/curve_number"),
        (replace(FULL, pot_diameter_cm=1), "/pot_diameter_cm"),
    ],
)
def test_figures_that_no_design_can_stand_on_are_turned_away_with_their_place(
    request_: ContainmentRequest, pointer: str
) -> None:
    with pytest.raises(BadRequest) as caught:
        plan_of(request=request_)
    assert caught.value.pointer == pointer


def test_a_pond_of_no_area_is_turned_away() -> None:
    with pytest.raises(BadRequest, match="above zero"):
        plan_of(place=replace(POND, area_m2=0))


def test_an_unknown_foam_is_named_with_those_that_would_do() -> None:
    with pytest.raises(UnknownValue, match="xps-iv"):
        plan_of(request=replace(FULL, foam="styrofoam cup"))


def test_a_first_frost_that_is_no_date_is_turned_away() -> None:
    with pytest.raises(BadRequest, match="MM-DD"):
        plan_of(FLOATER, climate=Climate("6b", first_frost="mid October"))


def test_slow_clumps_are_not_told_to_harvest() -> None:
    clump = with_traits(TALL_SEDGE, spread_rate="slow", frost_kill="top-only", zone_min=4)
    kinds = {measure.kind for measure in plan_of(clump, position=IN_BASKET).measures}
    assert "harvest" not in kinds
    assert "autumn-removal" not in kinds


def test_grazing_fish_are_kept_from_the_island() -> None:
    island = measure_of(plan_of(climate=CLIMATE), "foam-island")
    assert any("koi graze" in step for step in island.steps)
