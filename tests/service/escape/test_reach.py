import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from service.escape.parameters import default_parameters
from service.escape.reach import network_loaded, reach, unmapped_reach
from service.escape.release import PROPAGULES, ROUTES
from service.values.waters import Reached
from tests.service.escape.samples import LAKE

P = default_parameters()
DOWN = Reached(LAKE, "downstream", 700.0, 1_000.0)


def _at(
    reached: Reached, route: str, propagule: str, *, network: bool = True
) -> tuple[float, float]:
    r = next(i for i, one in enumerate(ROUTES) if one == route)
    m = next(i for i, one in enumerate(PROPAGULES) if one == propagule)
    low, high = reach(reached, network, P)[:, r, m].tolist()
    return low, high


def test_drift_along_the_network_by_hand() -> None:
    # Riis 2007, Hydrobiologia, doi:10.1007/s10750-007-9107-0: 1% of shoots held in each 100 m, a
    # scale of 9,950 m,
    # lies within the range taken for pieces, 1,000 to 50,000 m
    low, high = _at(DOWN, "outlet", "fragment")
    assert low == pytest.approx(math.exp(-1_000 / 1_000))
    assert high == pytest.approx(math.exp(-1_000 / 50_000))
    assert low < 0.99**10 < high


def test_a_lake_on_the_way_holds_part_back() -> None:
    one, two = (_at(replace(DOWN, lakes_passed=lakes), "outlet", "seed") for lakes in (1, 2))
    clear = _at(DOWN, "outlet", "seed")
    # common practice, no source: 0.3 to 0.9 of what drifts in drifts on
    assert one == pytest.approx((0.3 * clear[0], 0.9 * clear[1]))
    assert two == pytest.approx((0.09 * clear[0], 0.81 * clear[1]))


def test_an_upstream_water_is_reached_over_land_alone() -> None:
    upstream = Reached(LAKE, "upstream", 700.0)
    assert _at(upstream, "outlet", "fragment") == (0.0, 0.0)
    assert _at(upstream, "birds-and-visitors", "seed") == _at(DOWN, "birds-and-visitors", "seed")
    assert _at(upstream, "flood", "seed")[1] == pytest.approx(math.exp(-700 / 1_000))


def test_without_a_network_a_near_water_may_or_may_not_lie_downstream() -> None:
    near = Reached(LAKE, "near", 700.0)
    low, high = _at(near, "outlet", "seed", network=False)
    assert low == 0.0
    assert high == pytest.approx(math.exp(-700 / 50_000))
    assert _at(near, "outlet", "seed", network=True) == (0.0, 0.0)


@pytest.mark.parametrize("along_m", [700.0, 1_000.0, 9_000.0])
def test_learning_the_way_by_water_stays_within_what_was_held_before(along_m: float) -> None:
    before = reach(Reached(LAKE, "near", 700.0), False, P)
    after = reach(Reached(LAKE, "downstream", 700.0, along_m), True, P)
    assert (before[0] <= after[0] + 1e-12).all()
    assert (after[1] <= before[1] + 1e-12).all()


def test_a_downstream_water_without_a_length_may_lie_any_way_off_along_it() -> None:
    low, high = _at(Reached(LAKE, "downstream", 700.0), "outlet", "seed")
    assert (low, high) == pytest.approx((0.0, math.exp(-700 / 50_000)))


def test_a_water_that_holds_the_planting_is_reached() -> None:
    assert (reach(Reached(LAKE, "contains", 0.0), True, P) == 1.0).all()


def test_a_longer_way_never_raises_reach() -> None:
    tables = [
        reach(replace(DOWN, overland_m=d, along_m=1.5 * d), True, P)
        for d in (0.0, 10.0, 500.0, 1e5, 1e7)
    ]
    assert all((nearer >= farther).all() for nearer, farther in pairwise(tables))


def test_creeping_over_ten_years_by_hand() -> None:
    # Haslam 1970, Annals of Botany 34:147-158: 1 to 2 m a year, so 10 to 20 m in ten years, within
    # the 2 to 20 m taken
    low, high = _at(Reached(LAKE, "near", 10.0), "bank", "rhizome")
    assert (low, high) == pytest.approx((math.exp(-10 / 2), math.exp(-10 / 20)))


def test_an_unmapped_water_may_be_anywhere() -> None:
    assert (unmapped_reach(P)[0] == 0.0).all()
    assert (unmapped_reach(P)[1] == 1.0).all()


def test_a_network_shows_in_what_it_says_of_some_water() -> None:
    assert network_loaded([Reached(LAKE, "near", 5.0), DOWN])
    assert not network_loaded([Reached(LAKE, "near", 5.0)])


def test_tables_are_shared_and_so_cannot_be_written() -> None:
    with pytest.raises(ValueError, match="read-only"):
        reach(DOWN, True, P)[0, 0, 0] = np.float64(1.0)
