"""A mistake costs a field, not a planting; the usual words, counts and units are read."""

from typing import Any

import pytest

from service.checks.plan.request import Plan
from service.errors import BadRequest
from service.input.plan import read_plan
from service.input.plan_columns import column_of, suggestion
from service.input.plan_table import read_plan_table
from service.input.waters import water_of_text


def plan_of(planting: dict[str, Any], place: dict[str, Any] | None = None, **more: Any) -> Plan:
    pond = {"name": "Pond", "kind": "pond", **(place or {})}
    return read_plan({"site": {"state": "Ohio"}, "places": [pond], "plantings": [planting], **more})


def test_lengths_may_have_their_unit_with_or_without_it_in_the_key() -> None:
    plan = plan_of(
        {"label": "Iris", "crown_depth": "6 in"}, {"depth": "24 in", "area": "400 sq ft"}
    )
    assert plan.problems == ()
    assert plan.plantings[0].position.crown_depth_cm == pytest.approx(15.24)
    assert plan.places[0].place.depth_cm == pytest.approx(60.96)
    assert plan.places[0].place.area_m2 == pytest.approx(37.161, abs=0.001)
    assert plan_of({"label": "Iris"}, {"depth_cm": "2 ft"}).places[0].place.depth_cm == (
        pytest.approx(60.96)
    )


def test_a_length_without_any_unit_is_not_guessed() -> None:
    plan = plan_of({"label": "Iris"}, {"depth": 24})
    assert plan.places[0].place.depth_cm is None
    assert plan.problems[0].pointer == "/places/0/depth"
    assert "depth_cm" in plan.problems[0].next_step


def test_usual_words_are_read_as_what_they_mean() -> None:
    plan = plan_of(
        {"label": "Iris", "count": "12 plugs", "light": "Part Shade", "holding": "tub"},
        {"kind": "creek", "flow": "running", "outlet": "yes", "lined": "no"},
    )
    planting, place = plan.plantings[0], plan.places[0].place
    assert plan.problems == ()
    assert (planting.count, planting.position.light) == (12, "part-shade")
    assert planting.position.holding == "no-drain-tub"
    assert (place.kind, place.flow, place.outlet, place.lined) == ("stream", "moving", True, False)


@pytest.mark.parametrize(
    ("said", "kind"),
    [("marsh", "bog"), ("Wetland", "bog"), ("tub", "pond"), ("half barrel", "pond")],
)
def test_a_planted_place_has_the_nearest_of_its_own_kinds(said: str, kind: str) -> None:
    plan = plan_of({"label": "Iris"}, {"kind": said})
    assert (plan.problems, plan.places[0].place.kind) == ((), kind)


def test_a_lake_is_not_turned_into_a_pond() -> None:
    plan = plan_of({"label": "Iris"}, {"kind": "lake"})
    assert plan.problems[0].pointer == "/places/0/kind"


def test_what_cannot_be_read_is_told_beside_the_planting_and_the_label_is_kept() -> None:
    plan = plan_of({"label": "Iris", "count": "a few", "depth": "6 in", "light": "bright"})
    planting = plan.plantings[0]
    assert (planting.label, planting.count, planting.position.light) == ("Iris", None, None)
    assert {problem.pointer for problem in planting.problems} == {
        "/plantings/0/count",
        "/plantings/0/depth",
        "/plantings/0/light",
    }
    near = next(problem for problem in planting.problems if problem.pointer.endswith("depth"))
    assert near.next_step == "Did you mean 'crown_depth_cm'?"


@pytest.mark.parametrize(
    ("heading", "column", "unit"),
    [
        ("Qty", "count", ""),
        ("Crown Depth (in)", "crown_depth_cm", "in"),
        ("crown_depth_in", "crown_depth_cm", "in"),
        ("placeDepthCm", "place_depth_cm", ""),
        ("Place depth [ft]", "place_depth_cm", "ft"),
        ("State", "site_state", ""),
        ("Price", "", ""),
    ],
)
def test_headings_are_read_as_people_write_them(heading: str, column: str, unit: str) -> None:
    assert column_of(heading) == (column, unit)


def test_a_heading_near_a_known_one_is_suggested() -> None:
    assert suggestion("depth") == "Did you mean crown_depth_cm?"
    assert suggestion("Colour") == ""


def test_a_table_with_units_in_headings_and_cells() -> None:
    text = "Plant,Qty,Crown depth (in),place,place_kind,place depth,light\n" + (
        "Iris versicolor,12 plugs,6,Pond,pond,3 ft,part shade\n"
    )
    plan = read_plan_table(text.encode(), site={"state": "OH"})
    assert plan.problems == ()
    planting = plan.plantings[0]
    assert (planting.count, planting.position.light) == (12, "part-shade")
    assert planting.position.crown_depth_cm == pytest.approx(15.24)
    assert plan.places[0].place.depth_cm == pytest.approx(91.44)


def test_problems_of_a_table_have_its_rows_and_columns() -> None:
    text = "label,count,depth\nIris,many,6\nAcorus,3,\n"
    plan = read_plan_table(text.encode(), site={"state": "OH"})
    assert [planting.label for planting in plan.plantings] == ["Iris", "Acorus"]
    steps = {problem.pointer: problem.next_step for problem in plan.problems}
    assert steps["column 'depth'"] == "Did you mean crown_depth_cm?"
    assert 'row 2, column "count"' in steps
    assert plan.plantings[0].pointer == "row 2"


def test_a_water_on_one_line() -> None:
    assert water_of_text("Drawn Creek, stream, 40 m, downstream") == {
        "name": "Drawn Creek",
        "kind": "stream",
        "distance": "40 m",
        "relation": "downstream",
    }
    with pytest.raises(BadRequest, match="not a water"):
        water_of_text("Drawn Creek")


def test_waters_are_read_one_by_one() -> None:
    plan = plan_of(
        {"label": "Iris"},
        waters=[
            {
                "name": "Drawn Creek",
                "kind": "creek",
                "distance": "130 ft",
                "relation": "downstream",
            },
            {"name": "Nowhere Lake", "kind": "lake"},
            {"kind": "lake", "distance_m": 3},
        ],
    )
    (water,) = plan.waters
    assert (water.water.kind, water.relation) == ("stream", "downstream")
    assert water.distance_m == pytest.approx(39.624)
    assert [problem.pointer for problem in plan.problems] == ["/waters/1", "/waters/2/name"]
