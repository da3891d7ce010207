"""No contradiction between verdict, table, shopping list, decisions, containment and substitutes,
over drawn plans; and what each verdict rests on.
"""

import csv
import io
import json
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.checks.plan.check import check_plan
from service.checks.plan.values import PlanAnswer
from service.input.plan import read_plan
from service.output.models.plan import plan_json
from service.output.plan_geojson import write_plan_map
from service.output.plan_table import write_plan_table
from service.values.vocabulary import STATES
from tests.service.demo_stores import demo_library

ON = date(2026, 6, 1)
LABELS = (
    "Pontederia cordata",
    "Nymphaea odorata",
    "Water hyacinth",
    "Iris pseudacorus",
    "Iris versicolor",
    "Typha latifolia",
    "Typha angustifolia",
    "Carex stricta plugs",
    "Hydrilla verticillata",
    "Myriophyllum aquaticum",
    "Ceratophyllum demersum",
    "Water celery",
    "Lythrum salicaria 'Robert'",
    "Canna glauca",
    "Mentha aquatica",
    "Nelumbo nucifera",
    "Trapa natans",
    "Phragmites australis",
    "Egeria densa",
    "Sarracenia flava",
    "zzxqv",
)
KNOWN = st.sampled_from([None, True, False])
PLACES = st.fixed_dictionaries(
    {
        "name": st.just("Place"),
        "kind": st.sampled_from(["pond", "stream", "bog"]),
        "area_m2": st.sampled_from([None, 2, 60, 2_000]),
        "depth_cm": st.sampled_from([None, 0, 20, 90, 240]),
        "flow": st.sampled_from([None, "still", "slow", "moving"]),
        "light": st.sampled_from([None, "sun", "part-shade", "shade"]),
        "outlet": KNOWN,
        "overflow": KNOWN,
        "flood_prone": KNOWN,
        "bank_contact": KNOWN,
        "lined": KNOWN,
        "visited": KNOWN,
    }
)
PLANTINGS = st.fixed_dictionaries(
    {
        "label": st.sampled_from(LABELS),
        "count": st.sampled_from([None, 1, 12, 400]),
        "crown_depth_cm": st.sampled_from([None, -10, 0, 15, 60, 300]),
        "holding": st.sampled_from([None, "open-ground", "solid-pot", "no-drain-tub"]),
        "brought_from": st.sampled_from([None, "US-TN", "US-CA"]),
    }
)
SITES = st.fixed_dictionaries(
    {
        "state": st.sampled_from([None, *STATES]),
        "hardiness_zone": st.sampled_from([None, "4b", "6a", "9a"]),
    }
)
WATERS = st.lists(
    st.fixed_dictionaries(
        {
            "name": st.just("Drawn Creek (invented)"),
            "kind": st.sampled_from(["stream", "lake", "canal"]),
            "distance_m": st.sampled_from([0, 40, 2_000]),
            "relation": st.sampled_from(["near", "downstream"]),
        }
    ),
    max_size=1,
)


def stated(part: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in part.items() if value is not None}


def checked(
    site: dict[str, Any],
    place: dict[str, Any],
    plantings: list[dict[str, Any]],
    waters: list[dict[str, Any]] | None = None,
) -> PlanAnswer:
    document = {
        "site": stated(site),
        "places": [stated(place)],
        "plantings": [stated(planting) for planting in plantings],
        "waters": waters or [],
    }
    return check_plan(demo_library(), read_plan(document), on=ON)


def assert_consistent(answer: PlanAnswer) -> None:
    listed = {line.planting: line for line in answer.shopping.lines}
    back = {line.planting for line in answer.shopping.held_back}
    numbers = {planting.number for planting in answer.plantings}
    assert listed.keys() | back == numbers
    assert not listed.keys() & back
    rows = list(csv.DictReader(io.StringIO(write_plan_table(answer))))
    features = {
        feature["properties"]["number"]: feature["properties"]
        for feature in json.loads(write_plan_map(answer))["features"]
        if feature["properties"]["layer"] == "planting"
    }
    sent = json.loads(plan_json(answer))["plantings"]
    for planting, row, one in zip(answer.plantings, rows, sent, strict=True):
        verdict = planting.verdict
        assert verdict == row["verdict"] == features[planting.number]["verdict"] == one["verdict"]
        assert (verdict == "hold-back") == (planting.number in back)
        assert bool(planting.conditions) == (verdict != "nothing-against")
        if planting.number in listed:
            assert listed[planting.number].verdict == verdict
            assert listed[planting.number].conditions == planting.conditions
        # What the law bars is held back, and nothing that is held back for it has a measure.
        containment = planting.worst_containment
        if containment is not None and containment.verdict == "prohibited":
            assert verdict == "hold-back"
            assert not containment.measures
        fit = planting.worst_fit
        if verdict == "nothing-against":
            assert fit is not None
            assert fit.verdict == "fits"
            assert planting.native or planting.escape is not None
            assert planting.outcome not in ("prohibited", "permit-required", "conditional")
        if fit is not None and fit.verdict == "does-not-fit" and planting.resolution.confirmed:
            assert verdict == "hold-back"
        if planting.native:
            kinds = {ground.kind for ground in planting.grounds}
            assert not kinds & {"escape-likely", "nothing-holds", "restricted-elsewhere"}
    for decision in answer.decisions:
        if decision.kind in ("prohibited", "does-not-fit", "nothing-holds", "escape-likely"):
            assert set(decision.plantings) <= back, decision
    decided = {number for decision in answer.decisions for number in decision.plantings}
    assert back <= decided
    for planting in answer.plantings:
        for plant in planting.substitutes.plants if planting.substitutes else ():
            assert plant.nativity.status == "native"
            assert plant.why


@given(SITES, PLACES, st.lists(PLANTINGS, min_size=1, max_size=6), WATERS)
@settings(max_examples=25)
def test_no_part_of_an_answer_contradicts_another(
    site: dict[str, Any],
    place: dict[str, Any],
    plantings: list[dict[str, Any]],
    waters: list[dict[str, Any]],
) -> None:
    assert_consistent(checked(site, place, plantings, waters))


@pytest.mark.slow
@given(SITES, PLACES, st.lists(PLANTINGS, min_size=1, max_size=6), WATERS)
@settings(max_examples=500)
def test_no_part_of_an_answer_contradicts_another_over_500_plans(
    site: dict[str, Any],
    place: dict[str, Any],
    plantings: list[dict[str, Any]],
    waters: list[dict[str, Any]],
) -> None:
    assert_consistent(checked(site, place, plantings, waters))


POND = {
    "name": "Pond",
    "kind": "pond",
    "area_m2": 60,
    "depth_cm": 90,
    "flow": "still",
    "light": "sun",
    "outlet": False,
    "overflow": False,
    "flood_prone": False,
    "bank_contact": False,
    "lined": True,
    "visited": False,
    "freezing_depth_cm": 30,
}
OHIO = {"state": "US-OH", "hardiness_zone": "6a"}


def one(planting: dict[str, Any], site: dict[str, Any] = OHIO, **place: Any) -> Any:
    return checked(site, {**POND, **place}, [planting]).planting(1)


def test_a_native_that_fits_has_nothing_against_it() -> None:
    found = one({"label": "Pontederia cordata", "crown_depth_cm": 10})
    assert (found.verdict, found.conditions) == ("nothing-against", ())
    assert found.nativity.status == "native"


def test_a_native_that_takes_over_says_so() -> None:
    found = one({"label": "Typha latifolia", "crown_depth_cm": 10})
    assert found.verdict == "with-care"
    assert "crowds out other plants" in found.conditions[0]


@pytest.mark.parametrize(
    ("state", "label"),
    [
        ("US-OH", "Nymphoides peltata"),  # Ohio Admin. Code 901:5-30-01
        ("US-OH", "Typha angustifolia"),
        ("US-OR", "Ludwigia hexapetala"),  # OAR 603-052-1200
        ("US-OR", "Azolla pinnata"),
    ],
)
def test_what_nobody_may_sell_there_is_not_to_be_bought_there(state: str, label: str) -> None:
    """The rule does not name the buyer, and yet nobody may supply the plant."""
    found = one({"label": label, "crown_depth_cm": 10}, {"state": state, "hardiness_zone": "6a"})
    assert found.verdict == "hold-back"
    assert any("sell" in condition for condition in found.conditions)


@pytest.mark.parametrize("acts", [["possess"], ["plant"], ["possess", "plant"]])
def test_of_a_plant_that_is_there_no_sale_is_asked(acts: list[str]) -> None:
    found = one({"label": "Nymphoides peltata", "crown_depth_cm": 10, "acts": acts})
    assert {finding.finding.act for finding in found.findings} == {*acts, "release"}


def test_a_sale_that_is_not_barred_is_not_spoken_of() -> None:
    found = one({"label": "Pontederia cordata", "crown_depth_cm": 10})
    assert all(finding.finding.act != "sell" for finding in found.findings)


def test_soil_pot_and_grazing_fish_advise_and_do_not_decide() -> None:
    found = one(
        {
            "label": "Pontederia cordata",
            "crown_depth_cm": 10,
            "soil": "peat-mix",
            "container_volume_l": 1,
            "holding": "solid-pot",
        },
        grazing_fish=True,
    )
    assert found.verdict == "nothing-against"
    assert any("clay" in note for note in found.notes)


def test_a_crown_below_the_bed_is_a_problem_with_its_place_and_the_label_is_answered() -> None:
    answer = checked(OHIO, POND, [{"label": "Nymphaea odorata", "crown_depth_cm": 300}])
    assert [problem.pointer for problem in answer.problems] == ["/plantings/0/crown_depth_cm"]
    assert answer.planting(1).plants[0].accepted_name == "Nymphaea odorata"
    assert answer.planting(1).verdict == "with-care"


def test_a_position_far_outside_the_site_is_a_problem_and_is_not_used() -> None:
    site = {"geometry": {"type": "Point", "coordinates": [-84.29, 41.68]}}
    far = {"type": "Point", "coordinates": [-86.29, 41.68]}
    answer = checked(site, POND, [{"label": "Nymphaea odorata", "geometry": far}])
    assert [problem.pointer for problem in answer.problems] == ["/plantings/0/geometry"]
    assert "km" in answer.problems[0].detail
    assert answer.planting(1).position_on_map == pytest.approx((-84.29, 41.68))


def test_more_plants_than_the_place_has_room_for_is_a_condition() -> None:
    found = one({"label": "Pontederia cordata", "crown_depth_cm": 10, "count": 400}, area_m2=20)
    assert found.verdict == "with-care"
    assert "Plant fewer" in found.conditions[0]


def test_a_fact_that_the_law_is_asked_with_is_not_lost_in_silence() -> None:
    found = one({"label": "Pontederia cordata", "crown_depth_cm": 10, "brought_from": "Ohoi"})
    assert found.verdict == "with-care"
    assert "from which state it is brought" in found.conditions[0]
    assert [problem.pointer for problem in found.problems] == ["/plantings/0/brought_from"]


def test_too_few_plants_to_cover_the_place_is_a_condition() -> None:
    sedges = {"label": "Carex stricta", "crown_depth_cm": 0, "count": 400}
    found = one(sedges, kind="bog", depth_cm=0, area_m2=1200)
    assert found.verdict == "with-care"
    assert "Plant more" in found.conditions[0]


def test_a_few_plants_in_a_large_pond_are_not_too_few() -> None:
    found = one({"label": "Pontederia cordata", "crown_depth_cm": 10, "count": 6}, area_m2=1200)
    assert found.verdict == "nothing-against"


def test_a_plan_without_waters_says_which_command_brings_them() -> None:
    answer = checked(OHIO, POND, [{"label": "Pontederia cordata"}])
    assert any("reedgate fetch waters --at" in line for line in answer.assumptions)


def test_a_water_given_by_its_distance_is_answered_for() -> None:
    water = {
        "name": "Drawn Creek (invented)",
        "kind": "stream",
        "distance_m": 40,
        "relation": "downstream",
    }
    answer = checked(OHIO, POND, [{"label": "Iris pseudacorus"}], [water])
    (reached,) = [water.reached for water in answer.site.waters]
    assert (reached.relation, reached.along_m, reached.water.flow) == ("downstream", 40, "moving")
    escape = answer.planting(1).escape
    assert escape is not None
    assert [water.name for water in escape.waters] == ["Drawn Creek (invented)"]
    assert not any("fetch waters" in line for line in answer.assumptions)
