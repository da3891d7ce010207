"""Cases that any pond designer would answer the same way: common practice, no source."""

from dataclasses import replace

import pytest

from service.escape import PlannedMeasure, assess
from service.values.site import Climate, Place
from service.values.waters import Reached
from tests.service.escape.catalogue import plants
from tests.service.escape.samples import BROOK, LAKE

CLOSED = Place(
    "closed pond",
    "pond",
    area_m2=12.0,
    outlet=False,
    overflow=False,
    flood_prone=False,
    bank_contact=False,
    lined=True,
    visited=True,
)
NEAR_LAKE = Reached(LAKE, "near", 600.0)


@pytest.mark.parametrize("name", ["Pontederia crassipes", "Pistia stratiotes", "Salvinia molesta"])
def test_a_frost_tender_floater_in_a_closed_pond_is_low_in_zone_5_and_not_in_zone_9(
    name: str,
) -> None:
    cold, warm = (
        assess(plants()[name], CLOSED, Climate(zone), [NEAR_LAKE], None) for zone in ("5a", "9a")
    )
    assert cold.escape_class == "low"
    assert warm.escape_class in ("moderate", "high")
    assert cold.winter.survives.high < 0.05 < 0.9 < warm.winter.survives.high
    assert cold.this_summer.high > 5 * cold.interval.high


def test_the_summer_view_says_what_a_plant_that_dies_at_frost_can_still_do() -> None:
    cold = assess(plants()["Pontederia crassipes"], CLOSED, Climate("5a"), [NEAR_LAKE], None)
    assert "a single summer, each year it is planted" in cold.paragraph
    assert cold.this_summer.high > 0.4


def test_a_hardy_creeper_beside_a_brook_is_high() -> None:
    bed = Place(
        "bed",
        "bog",
        area_m2=5.0,
        outlet=False,
        overflow=False,
        flood_prone=True,
        bank_contact=True,
        lined=False,
        visited=False,
    )
    result = assess(
        plants()["Lysimachia nummularia"],
        bed,
        Climate("6a"),
        [Reached(BROOK, "downstream", 2.0, 4.0)],
        None,
    )
    assert result.escape_class == "high"
    assert result.interval.low > 0.01


def test_a_hardy_emergent_with_floating_seed_above_a_lake_is_high_mostly_by_water() -> None:
    pond = replace(CLOSED, outlet=True, outlet_flow_l_s=0.5, visited=False)
    result = assess(
        plants()["Iris pseudacorus"],
        pond,
        Climate("5b"),
        [Reached(LAKE, "downstream", 300.0, 450.0)],
        None,
    )
    assert result.escape_class == "high"
    assert result.waters[0].release.factors[0].name == "ways of spreading" or any(
        factor.name == "the outlet" for factor in result.waters[0].release.factors[:2]
    )
    by_route = {route.route: route.arrives.high for route in result.waters[0].routes}
    assert max(by_route, key=lambda route: by_route[route]) == "outlet"


def test_no_containment_holds_a_submerged_fragmenting_plant_in_a_pond_with_an_outlet() -> None:
    pond = replace(CLOSED, outlet=True, outlet_flow_l_s=0.5)
    measures = (
        PlannedMeasure("outlet-screen", 0.5),
        PlannedMeasure("no-drain-tub"),
        PlannedMeasure("freeboard"),
        PlannedMeasure("harvest"),
    )
    water = [Reached(LAKE, "downstream", 300.0, 450.0)]
    for name in ("Myriophyllum spicatum", "Hydrilla verticillata", "Egeria densa"):
        held = assess(plants()[name], pond, Climate("7a"), water, None, containment=measures)
        assert held.escape_class == "high"
        assert any("No measure is credited" in note for note in held.notes)


def test_a_screen_and_a_tub_do_hold_a_clumping_emergent() -> None:
    pond = replace(CLOSED, outlet=True, outlet_flow_l_s=0.5, visited=False, bank_contact=True)
    water = [Reached(BROOK, "downstream", 5.0, 10.0)]
    measures = (PlannedMeasure("outlet-screen", 0.3), PlannedMeasure("no-drain-tub"))
    free = assess(plants()["Acorus calamus"], pond, Climate("6a"), water, None)
    held = assess(
        plants()["Acorus calamus"], pond, Climate("6a"), water, None, containment=measures
    )
    assert held.interval.high < 0.7 * free.interval.high


def test_a_slow_native_at_home_is_low_where_a_running_foreigner_is_high() -> None:
    pond = replace(CLOSED, outlet=True, outlet_flow_l_s=0.5, bank_contact=True, lined=False)
    water = [Reached(LAKE, "downstream", 300.0, 450.0)]
    native = assess(plants()["Lobelia cardinalis"], pond, Climate("6a"), water, None)
    foreign = assess(plants()["Phalaris arundinacea"], pond, Climate("6a"), water, None)
    assert native.escape_class == "low"
    assert foreign.escape_class == "high"
