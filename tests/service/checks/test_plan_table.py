"""A plan as a table: the table that goes out comes in again and says the same; spreadsheets'
habits are borne.
"""

import csv
import io
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.checks.plan.check import check_plan
from service.checks.plan.values import PlanAnswer
from service.errors import BadRequest
from service.input.json_document import parse_json
from service.input.plan import read_plan
from service.input.plan_columns import ANSWERS
from service.input.plan_table import read_plan_table
from service.output.plan_table import write_plan_table
from tests.service.demo_stores import PLAN, demo_library

ON = date(2026, 6, 1)


def checked(content: str | bytes, **site: str) -> PlanAnswer:
    encoded = content.encode() if isinstance(content, str) else content
    return check_plan(demo_library(), read_plan_table(encoded, site=site), on=ON)


def test_the_table_of_the_demo_plan_comes_in_again_with_the_same_answer() -> None:
    answer = check_plan(demo_library(), read_plan(parse_json(PLAN.read_bytes())), on=ON)
    table = write_plan_table(answer)
    again = check_plan(demo_library(), read_plan_table(table.encode()), on=date(1990, 1, 1))
    assert not again.problems
    assert write_plan_table(again) == table
    for one, other in zip(answer.plantings, again.plantings, strict=True):
        assert (one.findings, one.lane, one.escape, one.containment, one.fits) == (
            other.findings,
            other.lane,
            other.escape,
            other.containment,
            other.fits,
        )


def test_a_table_without_site_takes_it_from_the_options() -> None:
    answer = checked(
        "Botanical name;Count;Place;Place kind\nIris versicolor;3;Bog;bog\n",
        state="US-OH",
        county="Fulton",
    )
    assert (answer.site.locality.state, answer.site.locality.county_name) == (
        "US-OH",
        "Fulton County",
    )
    assert answer.planting(1).place == "Bog"
    with pytest.raises(BadRequest, match="label"):
        read_plan_table(b"plnt,count\nIris,3\n")


def test_yes_and_no_and_lists_are_read_as_people_write_them() -> None:
    text = 'label,place,place_kind,place_outlet,place_overflow,acts,containment\nIris,Pond,pond,Yes,no,"buy; plant","solid-pot; outlet-screen (2 mm)"\n'
    plan = read_plan_table(text.encode(), site={"state": "US-OH"})
    assert (plan.places[0].place.outlet, plan.places[0].place.overflow) == (True, False)
    assert plan.plantings[0].acts == ("buy", "plant")
    assert [(measure.kind, measure.opening_mm) for measure in plan.plantings[0].planned] == [
        ("solid-pot", None),
        ("outlet-screen", 2.0),
    ]


def test_faults_name_row_and_column() -> None:
    text = "label,count,place,place_kind,place_depth_cm\nIris,many,Pond,pond,60\nTypha,2,Pond,pond,\nAcorus,1,Pond,,deep\n"
    plan = read_plan_table(text.encode(), site={"state": "US-OH"})
    assert [planting.label for planting in plan.plantings] == ["Iris", "Typha", "Acorus"]
    pointers = {problem.pointer for problem in plan.problems}
    assert {'row 2, column "count"', 'row 4, column "place_depth_cm"'} <= pointers


def test_rows_that_contradict_each_other_of_a_place_leave_the_fact_unknown() -> None:
    text = "label,place,place_kind,place_depth_cm\nIris,Pond,pond,60\nTypha,Pond,pond,90\nAcorus,Pond,pond,60\n"
    plan = read_plan_table(text.encode(), site={"state": "US-OH"})
    assert plan.places[0].place.depth_cm is None
    assert len(plan.problems) == 1


def test_a_column_that_is_none_of_a_plan_is_named() -> None:
    plan = read_plan_table(b"label,price\nIris,3.50\n", site={"state": "US-OH"})
    assert [problem.pointer for problem in plan.problems] == ["column 'price'"]


def test_a_cell_that_a_spreadsheet_would_run_comes_back_as_it_was() -> None:
    table = write_plan_table(checked("label\n=cmd|'/c calc'!A1\n", state="US-OH"))
    assert "\n=cmd" not in table
    assert read_plan_table(table.encode()).plantings[0].label == "=cmd|'/c calc'!A1"


def test_positions_may_be_well_known_text_or_degrees() -> None:
    text = "label,site_geometry,longitude,latitude\nIris,POINT (-84.2921 41.6832),-84.29,41.68\n"
    plan = read_plan_table(text.encode())
    assert plan.site.shape is not None
    assert plan.plantings[0].shape is not None
    assert plan.plantings[0].shape.bounds[:2] == (-84.29, 41.68)


@given(
    st.lists(
        st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=20).filter(
            str.strip
        ),
        min_size=1,
        max_size=4,
    )
)
@settings(max_examples=40, deadline=None)
def test_any_label_survives_the_way_out_and_in(labels: list[str]) -> None:
    buffer = io.StringIO()
    writer = csv.writer(buffer)
    writer.writerow(["label"])
    writer.writerows([label] for label in labels)
    first = read_plan_table(buffer.getvalue().encode(), site={"state": "US-OH"})
    table = write_plan_table(check_plan(demo_library(), first, on=ON))
    again = read_plan_table(table.encode())
    assert [planting.label for planting in again.plantings] == [
        planting.label for planting in first.plantings
    ]


def test_the_columns_of_the_answer_are_told_apart_from_those_of_the_plan() -> None:
    header = next(
        csv.reader(
            io.StringIO(write_plan_table(checked("label\nIris versicolor\n", state="US-OH")))
        )
    )
    assert len(set(header)) == len(header)
    assert set(ANSWERS) <= set(header)
    assert "US-OH:plant" in header


def test_the_demo_s_table_is_the_demo_s_plan() -> None:
    plan = check_plan(demo_library(), read_plan(parse_json(PLAN.read_bytes())), on=ON)
    table = check_plan(
        demo_library(),
        read_plan_table(PLAN.with_name("heron_bend_plantings.csv").read_bytes()),
        on=ON,
    )
    assert write_plan_table(table) == write_plan_table(plan)
