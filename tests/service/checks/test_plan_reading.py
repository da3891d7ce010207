"""Reading plan documents: what is at fault is named with its pointer, what is left is answered."""

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from service.errors import BadRequest, ReedgateError, TooLarge
from service.input import plan as plan_reading
from service.input.json_document import parse_json
from service.input.person import read_state
from service.input.plan import read_plan
from service.input.plan_document import PlanDocument
from tests.service.demo_stores import PLAN

SCHEMA = PlanDocument.model_json_schema(by_alias=True)


def document(**changed: Any) -> dict[str, Any]:
    return {
        "site": {"state": "US-OH"},
        "places": [{"name": "Pond", "kind": "pond", "depth_cm": 60}],
        "plantings": [{"label": "Iris versicolor"}, {"label": "Pontederia cordata"}],
        **changed,
    }


def test_the_schema_takes_its_own_examples_and_the_demo_plan() -> None:
    for example in (*SCHEMA["examples"], json.loads(PLAN.read_text(encoding="utf-8"))):
        Draft202012Validator(SCHEMA).validate(example)
        assert not read_plan(example).problems


def test_the_schema_refuses_a_key_that_it_does_not_know() -> None:
    assert list(Draft202012Validator(SCHEMA).iter_errors(document(plantngs=[])))


def test_a_planting_without_a_label_is_left_out_and_the_others_keep_their_numbers() -> None:
    plan = read_plan(
        document(
            plantings=[
                {"label": "Iris versicolor"},
                {"count": 3},
                {"label": "Acorus calamus"},
            ]
        )
    )
    assert [(planting.number, planting.label) for planting in plan.plantings] == [
        (1, "Iris versicolor"),
        (3, "Acorus calamus"),
    ]
    assert [problem.pointer for problem in plan.problems] == ["/plantings/1/label"]


@pytest.mark.parametrize(
    ("fault", "pointer"),
    [
        ({"label": "Iris", "cuont": 3}, "/plantings/0/cuont"),
        ({"label": ""}, "/plantings/0/label"),
        ({"label": "Iris", "acts": ["plnat"]}, "/plantings/0/acts/0"),
        ({"label": "Iris", "brought_from": "US-ZZ"}, "/plantings/0/brought_from"),
        ({"label": "Iris", "containment": ["moat"]}, "/plantings/0/containment/0"),
        ({"label": "Iris", "containment": ["solid-pot", "solid-pot"]}, "/plantings/0/containment"),
        (
            {"label": "Iris", "geometry": {"type": "Point", "coordinates": [41.68, -184.2]}},
            "/plantings/0/geometry/coordinates",
        ),
        (
            {"label": "Iris", "geometry": {"type": "Polygon", "coordinates": []}},
            "/plantings/0/geometry/type",
        ),
        ({"label": "Iris", "design": {"foam": 3}}, "/plantings/0/design/foam"),
        ({"label": "Iris", "crown_depth_cm": "deep"}, "/plantings/0/crown_depth_cm"),
        (7, "/plantings/0"),
    ],
)
def test_each_fault_of_a_planting_has_its_pointer(fault: Any, pointer: str) -> None:
    plan = read_plan(document(plantings=[fault, {"label": "Acorus calamus"}]))
    labelled = isinstance(fault, dict) and bool(fault["label"])
    read = ["Iris", "Acorus calamus"] if labelled else ["Acorus calamus"]
    assert [planting.label for planting in plan.plantings] == read
    assert pointer in [problem.pointer for problem in plan.problems]
    if labelled:
        assert pointer in [problem.pointer for problem in plan.plantings[0].problems]


def test_a_fact_of_a_place_that_cannot_be_read_counts_as_unknown() -> None:
    plan = read_plan(
        document(
            places=[
                {"name": "Pond", "kind": "pond", "depth_cm": "deep", "outlt": False, "area_m2": 20}
            ]
        )
    )
    assert plan.places[0].place.depth_cm is None
    assert plan.places[0].place.outlet is None
    assert plan.places[0].place.area_m2 == 20
    assert sorted(problem.pointer for problem in plan.problems) == [
        "/places/0/depth_cm",
        "/places/0/outlt",
    ]
    assert "outlet" in next(
        problem.next_step for problem in plan.problems if problem.pointer.endswith("outlt")
    )


def test_a_fact_of_the_design_that_cannot_be_read_leaves_the_others() -> None:
    plan = read_plan(
        document(
            places=[
                {
                    "name": "Pond",
                    "kind": "pond",
                    "design": {"curve_number": 900, "freeboard_cm": 12},
                }
            ]
        )
    )
    assert plan.places[0].design.freeboard_cm == 12
    assert plan.places[0].design.curve_number is None
    assert [problem.pointer for problem in plan.problems] == ["/places/0/design/curve_number"]


def test_a_place_without_its_kind_is_left_out_and_its_plantings_say_so() -> None:
    plan = read_plan(
        document(places=[{"name": "Pond"}], plantings=[{"label": "Iris", "place": "Pond"}])
    )
    assert plan.plantings[0].place is None
    assert "Pond" in plan.plantings[0].place_note
    assert {"/places/0/kind", "/plantings/0/place"} == {
        problem.pointer for problem in plan.problems
    }


def test_a_planting_of_the_one_place_need_not_name_it_and_of_several_must() -> None:
    assert read_plan(document()).plantings[0].place == "Pond"
    two = document(places=[{"name": "Pond", "kind": "pond"}, {"name": "Bog", "kind": "bog"}])
    assert read_plan(two).plantings[0].place is None


def test_a_wrong_site_fact_is_noted_and_counts_as_unknown() -> None:
    plan = read_plan(document(site={"state": "Ohoi", "zip": "43594"}))
    assert plan.site.state is None
    assert plan.site.zip_code == "43594"
    assert [problem.pointer for problem in plan.problems] == ["/site/state"]


@pytest.mark.parametrize("text", ["OH", "us-oh", "Ohio", "US-OH"])
def test_a_state_may_be_written_as_people_do(text: str) -> None:
    assert read_state(text) == "US-OH"


@pytest.mark.parametrize(
    ("changed", "pointer"),
    [
        ({"date": "next spring"}, "/date"),
        ({"acts": ["plnat"]}, "/acts/0"),
        ({"site": None}, "/site"),
        ({"plantings": []}, "/plantings"),
        ({"plantings": [{"label": ""}]}, "/plantings/0/label"),
    ],
)
def test_a_plan_that_cannot_be_answered_at_all_is_refused_with_a_pointer(
    changed: dict[str, Any], pointer: str
) -> None:
    with pytest.raises(BadRequest) as refused:
        read_plan(document(**changed))
    assert refused.value.pointer == pointer


def test_text_that_is_no_json_is_refused_with_line_and_column() -> None:
    with pytest.raises(BadRequest, match="line 2, column 11"):
        parse_json(b'{\n "site": {]}')
    with pytest.raises(BadRequest, match="NaN"):
        parse_json(b'{"site": NaN}')
    with pytest.raises(BadRequest, match="object"):
        parse_json(b"[]")
    with pytest.raises(BadRequest, match="half of a character"):
        parse_json(rb'{"site": {"\ud800": 1}}')


def test_more_plantings_than_the_limit_are_refused() -> None:
    with pytest.raises(TooLarge):
        read_plan(document(plantings=[{"label": "Iris"}] * (plan_reading.MAX_PLANTINGS + 1)))


_JSON = st.recursive(
    st.none() | st.booleans() | st.floats(allow_nan=False) | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["label", "name", "kind", "geometry", "type"]), inner, max_size=3
        )
    ),
    max_leaves=6,
)


@given(
    st.fixed_dictionaries(
        {},
        optional=dict.fromkeys(
            ("site", "places", "plantings", "date", "acts", "title", "else"), _JSON
        ),
    )
)
@settings(max_examples=150, deadline=None)
def test_whatever_the_document_holds_it_is_read_or_refused_in_plain_words(
    document: dict[str, Any],
) -> None:
    detail = ""
    try:
        read = bool(read_plan(document).plantings)
    except ReedgateError as error:
        read, detail = False, error.detail
    assert read or detail
