from dataclasses import replace

import pytest

from service.escape.interval import CERTAIN, Interval
from service.escape.parameters import default_parameters
from service.escape.release import (
    PROPAGULES,
    ROUTES,
    carried,
    openings,
    presence,
    residual,
    stand_size,
)
from service.escape.values import PlannedMeasure
from service.values.plants import Traits
from service.values.site import Place
from tests.service.escape.samples import POND

P = default_parameters()
CLOSED, STORM = P.interval("open.chance.closed"), P.interval("open.chance.storm")
UNSAID = Place("nothing said", "pond")


def test_a_fact_nobody_has_given_is_all_that_either_answer_may_give() -> None:
    ways = openings(UNSAID, P)
    assert ways["overflow"].interval == CLOSED | STORM
    assert ways["overflow"].value is None
    assert ways["outlet"].interval.low == CLOSED.low


def test_a_route_stated_closed_is_never_quite_shut() -> None:
    shut = replace(
        UNSAID, outlet=False, overflow=False, flood_prone=False, bank_contact=False, visited=False
    )
    for way in openings(shut, P).values():
        assert 0.0 < way.interval.high <= 0.1
        assert way.value is False


def test_the_outlet_opens_with_its_flow_as_worked_by_hand() -> None:
    # common practice, no source: half open at 0.02 to 0.5 L/s, so 1 L/s gives 1/1.5 to 1/1.02
    way = openings(replace(UNSAID, outlet=True, outlet_flow_l_s=1.0), P)["outlet"]
    assert way.interval.low == pytest.approx(1 / 1.5)
    assert way.interval.high == pytest.approx(1 / 1.02)
    assert (way.value, way.unit) == (1.0, "L/s")


def test_a_stated_flow_is_an_outlet_whatever_is_said_of_one() -> None:
    for said in (None, True, False):
        assert (
            openings(replace(UNSAID, outlet=said, outlet_flow_l_s=2.0), P)["outlet"].interval.low
            > 0.5
        )


def test_an_outlet_that_hardly_runs_is_never_held_tighter_than_none() -> None:
    shut = openings(replace(UNSAID, outlet=False), P)["outlet"].interval
    trickle = openings(replace(UNSAID, outlet=True, outlet_flow_l_s=0.0), P)["outlet"].interval
    assert trickle.low >= shut.low
    assert trickle.high >= shut.high


def test_a_liner_narrows_the_way_over_the_bank_and_no_contact_closes_it() -> None:
    def bank(contact: bool | None, lined: bool | None) -> Interval:
        return openings(replace(UNSAID, bank_contact=contact, lined=lined), P)["bank"].interval

    assert bank(True, True).high < bank(True, False).low
    assert bank(False, False) == CLOSED
    assert bank(None, None) == CLOSED | P.interval("open.chance.bank")


def test_a_planting_in_a_stream_is_open_to_it_by_water_and_by_ground() -> None:
    ways = openings(Place("brook", "stream", outlet=False, bank_contact=False, lined=True), P)
    assert ways["outlet"].interval == ways["bank"].interval == CERTAIN


def test_a_larger_stand_never_sheds_less() -> None:
    sizes = [stand_size(area, P) for area in (0.0, 0.5, 5.0, 500.0)]
    assert [size.low for size in sizes] == sorted(size.low for size in sizes)
    assert stand_size(2.0, P) == Interval(2 / 4.0, 2 / 2.2)
    assert all(size in stand_size(None, P) for size in sizes[1:])


def test_only_unrooted_plants_travel_whole() -> None:
    assert (
        presence(Traits(growth_form="free-floating", spread_modes=("seed",)))["whole-plant"]
        == CERTAIN
    )
    assert (
        presence(Traits(growth_form="emergent", spread_modes=("seed",)))["whole-plant"].high == 0.0
    )
    assert presence(Traits())["whole-plant"] == Interval(0.0, 1.0)


def test_unknown_ways_of_spreading_hold_every_known_one() -> None:
    unsaid = carried(Traits(growth_form="emergent"), (), P)
    for modes in (("seed",), ("rhizome", "fragment"), ("spore", "turion", "bulbil")):
        said = carried(Traits(growth_form="emergent", spread_modes=modes), (), P)
        assert (unsaid[0] <= said[0]).all()
        assert (unsaid[1] >= said[1]).all()


def _left(measure: PlannedMeasure, route: str, propagule: str, **traits: object) -> Interval:
    r = next(one for one in ROUTES if one == route)
    m = next(one for one in PROPAGULES if one == propagule)
    return residual(measure, Traits(**traits), r, m, P)  # type: ignore[arg-type]


def test_a_tub_holds_rhizomes_and_not_seed() -> None:
    tub = PlannedMeasure("no-drain-tub")
    assert _left(tub, "bank", "rhizome").high <= 0.2
    assert _left(tub, "bank", "seed") == CERTAIN
    assert _left(tub, "outlet", "rhizome") == CERTAIN


@pytest.mark.parametrize(
    ("opening_mm", "high", "low"), [(0.2, 0.4, 0.05), (2.0, 1.0, 0.05), (9.0, 1.0, 1.0)]
)
def test_a_screen_holds_what_is_larger_than_its_opening(
    opening_mm: float, high: float, low: float
) -> None:
    # common practice, no source: seed is 0.3 to 8 mm, a screen finer than the piece leaves 0.05 to
    # 0.4
    assert _left(PlannedMeasure("outlet-screen", opening_mm), "outlet", "seed") == Interval(
        low, high
    )


def test_a_screen_of_unknown_opening_is_credited_as_the_finest_at_best() -> None:
    assert _left(PlannedMeasure("outlet-screen"), "outlet", "seed") == Interval(0.05, 1.0)


@pytest.mark.parametrize("route", ["outlet", "overflow", "flood"])
def test_nothing_is_credited_against_pieces_of_a_submerged_plant_where_water_leaves(
    route: str,
) -> None:
    for measure in (
        PlannedMeasure("outlet-screen", 0.1),
        PlannedMeasure("freeboard"),
        PlannedMeasure("harvest"),
    ):
        assert _left(measure, route, "fragment", growth_form="submerged") == CERTAIN
        assert _left(measure, route, "fragment", growth_form=None).high == 1.0


def test_every_way_out_of_a_full_description_names_its_fact() -> None:
    assert all(way.value is not None for way in openings(POND, P).values())
