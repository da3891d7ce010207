import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from service.escape.arrives import Ways, network_loaded
from service.escape.draws import Array, draws
from service.escape.leaves import made, openings, residual, shed, stand_size
from service.escape.parameters import default_parameters
from service.escape.values import PlannedMeasure, Propagule
from service.values.plants import History, Traits
from service.values.site import EscapeRoute, Place, Reached
from tests.service.escape.samples import LAKE, POND

P = default_parameters()
PLAIN, FULL = draws(P, full=False), draws(P, full=True)
UNSAID = Place("nothing said", "pond")


def ends(rows: Array) -> tuple[float, float]:
    """At the mildest and at the worst corner."""
    return float(rows[-3]), float(rows[-1])


def test_a_fact_nobody_has_given_is_all_that_either_answer_may_give() -> None:
    ways = openings(UNSAID, FULL)
    closed, storm = P.span("open.chance.closed"), P.span("open.chance.storm")
    assert ends(ways["overflow"].chance) == (closed[0], storm[1])
    assert ways["overflow"].value is None
    number = FULL.count
    mildest, worst = (
        ways["surplus"].chance[number : 2 * number],
        ways["surplus"].chance[2 * number : 3 * number],
    )
    assert (mildest <= P.span("open.chance.closed")[1]).all()
    assert (worst >= P.span("open.chance.surplus")[0]).all()


def test_a_route_stated_closed_is_never_quite_shut() -> None:
    shut = replace(
        POND,
        outlet=False,
        outlet_flow_l_s=None,
        overflow=False,
        bank_contact=False,
        visited=False,
        surplus=False,
    )
    for way in openings(shut, PLAIN).values():
        assert 0.0 < ends(way.chance)[1] <= 0.1
        assert way.value is False


def test_the_outlet_opens_with_its_flow_as_worked_by_hand() -> None:
    # common practice, no source: half open at 0.02 to 0.5 L/s, so 1 L/s gives 1/1.5 to 1/1.02
    way = openings(POND, PLAIN)["outlet"]
    assert ends(way.chance) == pytest.approx((1 / 1.5, 1 / 1.02))
    assert (way.value, way.unit) == (1.0, "L/s")


def test_a_stated_flow_is_an_outlet_whatever_is_said_of_one() -> None:
    for said in (None, True, False):
        stated = replace(POND, outlet=said, outlet_flow_l_s=2.0)
        assert openings(stated, PLAIN)["outlet"].chance.min() > 0.5


def test_a_liner_narrows_the_way_over_the_bank_and_no_contact_closes_it() -> None:
    def bank(contact: bool, lined: bool) -> tuple[float, float]:
        stated = replace(POND, bank_contact=contact, lined=lined)
        return ends(openings(stated, PLAIN)["bank"].chance)

    assert bank(True, True)[1] < bank(True, False)[0]
    assert bank(False, False) == P.span("open.chance.closed")


def test_a_planting_in_a_stream_is_open_to_it_by_water_and_by_ground() -> None:
    ways = openings(Place("brook", "stream", outlet=False, bank_contact=False, lined=True), FULL)
    assert (ways["outlet"].chance == 1.0).all()
    assert (ways["bank"].chance == 1.0).all()


def test_a_larger_stand_never_sheds_less() -> None:
    # common practice, no source: half at 0.2 to 2 m2
    assert ends(stand_size(2.0, PLAIN)) == pytest.approx((2 / 4.0, 2 / 2.2))
    sizes = [stand_size(area, PLAIN) for area in (0.0, 0.5, 5.0, 500.0)]
    assert all((a <= b).all() for a, b in pairwise(sizes))


def test_only_unrooted_plants_travel_whole() -> None:
    assert made(Traits(growth_form="free-floating", spread_modes=("seed",))) == (
        "seed",
        "whole-plant",
    )
    assert made(Traits(growth_form="emergent", spread_modes=("seed",))) == ("seed",)


def test_pieces_that_were_measured_to_travel_are_made() -> None:
    # CLO-PLA (Klimesova et al. 2017, Ecology 98:1179): offspring freely dispersible
    rooted = Traits(growth_form="emergent", spread_modes=("rhizome",))
    assert "fragment" in made(replace(rooted, history=History(pieces_travel=True)))
    assert "fragment" not in made(replace(rooted, history=History(pieces_travel=False)))


def test_a_clone_that_sets_no_seed_sheds_none() -> None:
    sterile = Traits(growth_form="emergent", spread_modes=("seed",), history=History(sterile="yes"))
    assert shed(sterile, "outlet", "seed", PLAIN).max() == 0.0


def _left(
    measure: PlannedMeasure, route: EscapeRoute, propagule: Propagule, **traits: object
) -> tuple[float, float]:
    left = residual(measure, Traits(**traits), route, propagule, FULL)  # type: ignore[arg-type]
    return (1.0, 1.0) if left is None else ends(left)


def test_a_tub_keeps_in_rhizomes_and_not_seed() -> None:
    tub = PlannedMeasure("no-drain-tub")
    assert _left(tub, "bank", "rhizome")[1] <= 0.2
    assert _left(tub, "bank", "seed") == (1.0, 1.0)
    assert _left(tub, "outlet", "rhizome") == (1.0, 1.0)


@pytest.mark.parametrize(("opening_mm", "low", "high"), [(0.2, 0.05, 0.4), (9.0, 1.0, 1.0)])
def test_a_screen_keeps_back_what_is_larger_than_its_opening(
    opening_mm: float, low: float, high: float
) -> None:
    # common practice, no source: seed is 0.3 to 8 mm, a screen finer than the piece leaves 0.05
    # to 0.4
    assert _left(PlannedMeasure("outlet-screen", opening_mm), "outlet", "seed") == (low, high)


def test_a_screen_of_unknown_opening_is_credited_as_the_finest_at_best() -> None:
    assert _left(PlannedMeasure("outlet-screen"), "outlet", "seed") == (0.05, 1.0)


@pytest.mark.parametrize("route", ["outlet", "overflow", "flood"])
def test_nothing_is_credited_against_pieces_of_a_submerged_plant_where_water_leaves(
    route: EscapeRoute,
) -> None:
    for measure in (
        PlannedMeasure("outlet-screen", 0.1),
        PlannedMeasure("freeboard"),
        PlannedMeasure("harvest"),
    ):
        assert _left(measure, route, "fragment", growth_form="submerged") == (1.0, 1.0)


DOWN = Reached(LAKE, "downstream", 700.0, 1_000.0)


def _reached(water: Reached, route: EscapeRoute, propagule: Propagule) -> tuple[float, float]:
    share = Ways((water,), network_loaded([water]), FULL).share(route, propagule)
    return ends(share[0])


def test_drift_along_the_network_by_hand() -> None:
    # Riis 2007, Hydrobiologia, doi:10.1007/s10750-007-9107-0: 1% of shoots kept in each 100 m, a
    # scale of 9,950 m, lies within the range taken for pieces, 1,000 to 50,000 m
    low, high = _reached(DOWN, "outlet", "fragment")
    assert (low, high) == pytest.approx((math.exp(-1.0), math.exp(-1_000 / 50_000)))
    assert low < 0.99**10 < high


def test_a_lake_on_the_way_keeps_part_back() -> None:
    clear = _reached(DOWN, "outlet", "seed")
    one, two = (_reached(replace(DOWN, lakes_passed=n), "outlet", "seed") for n in (1, 2))
    # common practice, no source: 0.3 to 0.9 of what drifts in drifts on
    assert one == pytest.approx((0.3 * clear[0], 0.9 * clear[1]))
    assert two == pytest.approx((0.09 * clear[0], 0.81 * clear[1]))


def test_an_upstream_water_is_reached_over_land_alone() -> None:
    upstream = Reached(LAKE, "upstream", 700.0)
    assert _reached(upstream, "outlet", "fragment") == (0.0, 0.0)
    assert _reached(upstream, "flood", "seed")[1] == pytest.approx(math.exp(-700 / 1_000))


def test_without_a_network_a_near_water_may_or_may_not_lie_downstream() -> None:
    low, high = _reached(Reached(LAKE, "near", 700.0), "outlet", "seed")
    assert (low, high) == pytest.approx((0.0, math.exp(-700 / 50_000)))


def test_creeping_over_ten_years_by_hand() -> None:
    # Haslam 1970, Annals of Botany 34:147-158: 1 to 2 m a year, so 10 to 20 m in ten years, within
    # the 2 to 20 m taken
    assert _reached(Reached(LAKE, "upstream", 10.0), "bank", "rhizome") == pytest.approx(
        (math.exp(-10 / 2), math.exp(-10 / 20))
    )


def test_surplus_goes_where_people_go() -> None:
    # common practice, no source: two thirds tipped out within 2 to 30 km
    far = Reached(LAKE, "upstream", 5_000.0)
    assert _reached(far, "surplus", "fragment") == pytest.approx((math.exp(-2.5), math.exp(-1 / 6)))


def test_an_unmapped_water_may_be_anywhere() -> None:
    share = Ways((), False, FULL).share("birds-and-visitors", "seed")
    assert ends(share[0]) == (0.0, 1.0)
    assert np.isfinite(share).all()
