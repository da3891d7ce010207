"""Where water leaves a place: points of the plan that come back and stand on its map."""

import json
from typing import Any

import pytest

from service.output.maps import plan_maps
from service.output.models.plan import plan_json
from service.output.plan_geojson import write_plan_map
from tests.service.output.plans import POINT, answer_of

OUTLET = {"type": "Point", "coordinates": [-84.29205, 41.68325]}
OVERFLOW = {"type": "Point", "coordinates": [-84.29217, 41.68312]}
FAR = {"type": "Point", "coordinates": [-84.5, 41.68]}


def plan(**of_place: Any) -> dict[str, Any]:
    return {
        "site": {"geometry": POINT},
        "places": [{"name": "Pond", "kind": "pond", "geometry": POINT, **of_place}],
        "plantings": [{"label": "Pontederia cordata", "place": "Pond"}],
    }


def test_outlet_and_overflow_come_back_and_are_facts_of_the_place() -> None:
    answer = answer_of(plan(outlet_at=OUTLET, overflow_at=OVERFLOW))
    (place,) = json.loads(plan_json(answer))["places"]
    assert (place["outlet"], place["overflow"]) == (True, True)
    assert (place["outlet_at"], place["overflow_at"]) == (OUTLET, OVERFLOW)
    features = write_plan_map(answer)
    assert '"layer":"outlet","place":"Pond"' in features
    assert '"layer":"overflow","place":"Pond"' in features
    assert answer.problems == ()


def test_the_map_shows_them_by_shape_and_word() -> None:
    site = plan_maps(answer_of(plan(outlet_at=OUTLET, overflow_at=OVERFLOW)), {})[1]
    assert ">outlet</text>" in site.svg
    assert ">overflow</text>" in site.svg
    assert "Black arrow: outlet and white arrow: where a storm goes over" in site.caption
    assert "The outlet of Pond is marked." in site.svg
    assert "arrow" not in plan_maps(answer_of(plan()), {})[0].caption


@pytest.mark.parametrize("fact", ["outlet", "overflow"])
def test_a_mark_that_the_plan_denies_leaves_the_fact_open(fact: str) -> None:
    answer = answer_of(plan(**{fact: False, f"{fact}_at": OUTLET}))
    assert getattr(answer.places[0].place, fact) is None
    (problem,) = answer.problems
    assert problem.pointer == f"/places/0/{fact}_at"
    assert problem.next_step


def test_a_mark_far_from_its_place_is_set_aside_with_its_pointer() -> None:
    answer = answer_of(plan(outlet_at=FAR))
    assert answer.places[0].outlet_at is None
    (problem,) = answer.problems
    assert problem.pointer == "/places/0/outlet_at"
    assert "outlet of Pond" in problem.detail


def test_a_mark_that_is_not_a_point_costs_the_mark_alone() -> None:
    answer = answer_of(plan(outlet=True, outlet_at={"type": "LineString", "coordinates": []}))
    assert answer.places[0].place.outlet is True
    assert answer.places[0].outlet_at is None
    assert [problem.pointer for problem in answer.problems] == ["/places/0/outlet_at/type"]
