"""What the page makes of what was filled in: a list, a table or a plan, each told from the
other, nothing lost.
"""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.errors import BadRequest, UnknownValue
from service.input.page_form import PageForm, acts_of, form_of, kind_of, plan_of, stock_of
from tests.service.demo_stores import PLAN

LABELS = (
    st.text(st.characters(blacklist_categories=("Cs", "Cc", "Zl", "Zp")), min_size=1, max_size=40)
    .map(str.strip)
    .filter(bool)
)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("Water hyacinth\nYellow flag iris", "labels"),
        ("Iris, blue flag\nIris, yellow", "labels"),
        ("label,size\nIris,4in", "table"),
        ("\ufeffBotanical Name;Pot\nIris;4in", "table"),
        ("sku\tItem\n1\tIris", "table"),
        ("label\nIris", "table"),
        ("plant", "table"),
        ('  {"site": {}}', "plan"),
        ("", "labels"),
    ],
)
def test_a_plan_a_table_and_a_list_are_told_apart(text: str, kind: str) -> None:
    assert kind_of(text) == kind


@given(st.lists(LABELS, min_size=1, max_size=12))
@settings(max_examples=60, deadline=None)
def test_no_line_of_a_list_is_lost_or_split(labels: list[str]) -> None:
    text = "\n".join(labels)
    if kind_of(text) != "labels":
        return
    table = stock_of(PageForm(plants=text))
    given_labels = [" ".join(label.split("\n")) for label in labels]
    refused = {problem.row for problem in table.problems}
    for number, (label, read) in enumerate(zip(given_labels, table.labels, strict=True), start=1):
        assert read == ("" if number in refused else label)
    assert table.first_row == 1


def test_an_uploaded_file_goes_before_what_was_pasted_and_may_be_of_any_usual_encoding() -> None:
    for encoding in ("utf-8", "utf-8-sig", "utf-16", "cp1252"):
        assert (
            form_of({"plants": ["pasted"]}, "Nymphaea ×marliacea".encode(encoding)).plants
            == "Nymphaea ×marliacea"
        )
    assert form_of({"plants": ["pasted"]}, b" \r\n").plants == "pasted"


def test_the_plan_of_a_list_has_the_place_and_acts_of_the_form() -> None:
    fields = {
        "plants": ["Iris versicolor\n\n  Pontederia cordata "],
        "state": ["US-OH"],
        "county": ["39051"],
        "at": ["-84.29, 41.68"],
        "act": ["plant", "buy"],
        "place_kind": ["pond"],
        "place_depth_cm": ["45"],
        "place_outlet": ["yes"],
        "place_overflow": ["no"],
        "place_lined": [""],
    }
    plan = plan_of(form_of(fields))
    assert [each.label for each in plan.plantings] == ["Iris versicolor", "Pontederia cordata"]
    assert (plan.site.state, plan.site.county) == ("US-OH", "39051")
    assert plan.site.shape is not None
    assert plan.acts == ("buy", "plant")
    place = plan.places[0].place
    assert (place.kind, place.depth_cm, place.outlet, place.overflow, place.lined) == (
        "pond",
        45,
        True,
        False,
        None,
    )


def test_a_fact_of_the_place_that_is_no_number_is_told_and_left_out() -> None:
    plan = plan_of(
        PageForm(plants="Iris", state="US-OH", place={"kind": "pond", "depth_cm": "knee deep"})
    )
    assert plan.places[0].place.depth_cm is None
    assert [each.pointer for each in plan.problems] == ["/places/0/depth_cm"]


def test_a_plan_document_keeps_its_own_site_and_acts() -> None:
    text = PLAN.read_text(encoding="utf-8")
    plan = plan_of(PageForm(plants=text, state="US-WI", acts=("sell",)))
    assert plan.site.state is None
    assert plan.acts == tuple(json.loads(text)["acts"])
    bare = plan_of(PageForm(plants='{"plantings": ["Iris"]}', state="US-WI", acts=("sell",)))
    assert (bare.site.state, bare.acts) == ("US-WI", ("sell",))


def test_a_table_with_places_of_its_own_is_read_as_a_plan_table() -> None:
    plan = plan_of(
        PageForm(
            plants="label,count,place,place_kind\nIris,3,Upper,pond\nReed,1,Lower,bog\n",
            state="US-OH",
            acts=("plant",),
        )
    )
    assert [each.place.name for each in plan.places] == ["Upper", "Lower"]
    assert plan.plantings[0].count == 3
    assert plan.acts == ("plant",)


@pytest.mark.parametrize(
    ("form", "pointer"),
    [
        (PageForm(), "plants"),
        (PageForm(plants=" \n "), "plants"),
        (PageForm(plants="Iris"), "state"),
        (PageForm(plants="Iris", at="north of the mill"), "at"),
        (PageForm(plants="Iris", state="US-OH", acts=("burn",)), "act"),
    ],
)
def test_what_is_missing_or_unreadable_is_named_with_what_to_do(
    form: PageForm, pointer: str
) -> None:
    with pytest.raises(BadRequest) as caught:
        plan_of(form)
    assert caught.value.pointer == pointer
    assert caught.value.next_step


def test_the_states_of_a_list_are_the_one_chosen_and_the_others_each_once() -> None:
    assert PageForm(state="US-OH", also="US-WI; US-MN,US-OH").states == ("US-OH", "US-WI", "US-MN")
    assert PageForm(also="US-WI").states == ("US-WI",)


def test_acts_stand_in_the_order_of_the_vocabulary() -> None:
    assert acts_of(PageForm(acts=("plant", "sell"))) == ("sell", "plant")
    with pytest.raises(UnknownValue):
        acts_of(PageForm(acts=("<script>",)))
