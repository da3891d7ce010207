"""The plan check on the invented county: what it finds, in what order it says it, and that it
never says more than it knows.
"""

import re
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.checks.plan.check import check_plan
from service.checks.plan.values import PlanAnswer
from service.containment import disposal
from service.escape import Interval
from service.input.json_document import parse_json
from service.input.plan import read_plan
from service.output.models.plan import plan_json
from service.regulation.shipping import ship
from service.store.database import Build
from service.store.library import Library
from service.values.vocabulary import Jurisdiction
from tests.service.demo_stores import HERON_BEND, PLAN, demo_library, demo_path

ON = date(2026, 6, 1)
POINT = {"type": "Point", "coordinates": list(HERON_BEND)}
POND: dict[str, Any] = {
    "name": "Pond",
    "kind": "pond",
    "area_m2": 40,
    "depth_cm": 60,
    "flow": "still",
    "outlet": True,
    "overflow": True,
    "flood_prone": False,
    "bank_contact": False,
    "visited": True,
}


def check(
    *labels: str | dict[str, Any],
    site: dict[str, Any] | None = None,
    places: list[dict[str, Any]] | None = None,
    **head: Any,
) -> PlanAnswer:
    plantings = [{"label": label} if isinstance(label, str) else label for label in labels]
    document = {
        "site": site or {"geometry": POINT},
        "places": [POND] if places is None else places,
        "plantings": plantings,
        **head,
    }
    return check_plan(demo_library(), read_plan(document), on=ON)


@pytest.fixture(scope="module")
def demo() -> PlanAnswer:
    return check_plan(demo_library(), read_plan(parse_json(PLAN.read_bytes())), on=ON)


def test_the_site_s_facts_are_found_and_say_how_they_are_known(demo: PlanAnswer) -> None:
    assert (demo.site.locality.state, demo.site.locality.county_name) == ("US-OH", "Fulton County")
    assert demo.site.fact("downstream-states").text == "Michigan"
    for fact in demo.site.facts:
        assert (fact.known is None) == bool(fact.would_narrow), fact.key
        assert fact.known is None or fact.known.how_known in (
            "measured",
            "published",
            "user",
            "memory",
        )


def test_the_states_asked_are_the_site_s_and_for_release_those_downstream(demo: PlanAnswer) -> None:
    first = demo.planting(1)
    asked = [
        (finding.role, finding.finding.jurisdiction, finding.finding.act)
        for finding in first.findings
    ]
    assert asked == [
        ("site", "US-OH", "buy"),
        ("site", "US-OH", "possess"),
        ("site", "US-OH", "plant"),
        ("water", "US-OH", "release"),
        ("water", "US-MI", "release"),
    ]


def test_an_address_alone_is_answered_and_what_it_lacks_is_said() -> None:
    answer = check("Iris versicolor", site={"state": "US-OH", "county": "Fulton", "zip": "43594"})
    assert answer.site.locality.county == "39051"
    assert answer.site.waters == ()
    assert answer.site.fact("waters").known is None
    assert "reedgate fetch waters --at" in answer.site.fact("waters").would_narrow
    assert answer.site.fact("zone").text == "6a"
    assert answer.planting(1).escape is not None  # an unmapped water at any distance stands in
    assert "site.downstream-states" in {question.fact for question in answer.unsettled}


def test_without_a_state_no_law_is_looked_up_and_that_is_the_first_to_decide() -> None:
    answer = check("Hydrilla verticillata", site={"hardiness_zone": "6b"})
    planting = answer.planting(1)
    assert (planting.outcome, planting.findings, planting.passes) == (None, (), False)
    assert answer.decisions[0].kind == "state-unknown"


def test_a_site_near_a_state_line_is_answered_for_both_states() -> None:
    answer = check(
        "Iris pseudacorus", site={"geometry": {"type": "Point", "coordinates": [-84.2320, 41.7098]}}
    )
    assert {
        (finding.role, finding.finding.jurisdiction) for finding in answer.planting(1).findings
    } >= {
        ("site", "US-OH"),
        ("neighbour", "US-MI"),
    }


def test_a_stated_state_that_the_position_denies_has_both_answered() -> None:
    answer = check("Iris pseudacorus", site={"geometry": POINT, "state": "US-IN"})
    assert answer.site.locality.state == "US-IN"
    assert "US-OH" in answer.site.neighbours
    assert any("both are answered" in note for note in answer.site.notes)


def test_a_stated_county_that_the_position_denies_leaves_the_county_open() -> None:
    answer = check("Iris pseudacorus", site={"geometry": POINT, "county": "Lucas"})
    assert answer.site.locality.county is None
    assert any("left open" in note for note in answer.site.notes)


def test_a_site_s_outline_over_a_state_line_has_both_states_answered() -> None:
    ring = [[-84.24, 41.69], [-84.22, 41.69], [-84.22, 41.715], [-84.24, 41.715], [-84.24, 41.69]]
    answer = check(
        "Iris pseudacorus", site={"geometry": {"type": "Polygon", "coordinates": [ring]}}
    )
    assert {answer.site.locality.state, *answer.site.neighbours} == {"US-OH", "US-MI"}
    assert any("may lie anywhere in the site" in assumption for assumption in answer.assumptions)


def test_a_label_that_nobody_knows_says_so_and_is_held_back() -> None:
    planting = check("zzxqv").planting(1)
    assert (planting.plants, planting.fits, planting.escape) == ((), (), None)
    assert planting.outcome == "undetermined"
    assert planting.held_back


def test_a_label_that_may_mean_several_plants_is_answered_for_each_and_widened_over_all() -> None:
    planting = check("Water celery, varieg. 4in").planting(1)
    assert (
        len(planting.plants)
        == len(planting.fits)
        == len(planting.containment)
        == len(planting.resolution.candidates)
        > 2
    )
    assert planting.escape is not None
    for plant in planting.plants:
        alone = check(plant.accepted_name).planting(1).escape
        if alone is not None and len(alone.candidates) == 1:
            assert alone.interval in planting.escape.interval, plant.accepted_name
    assert any(
        decision.kind == "name-open" for decision in check("Water celery, varieg. 4in").decisions
    )


def test_a_prohibited_plant_gets_disposal_and_no_measure() -> None:
    answer = check("Trapa natans", site={"state": "US-CT"})
    planting = answer.planting(1)
    assert planting.outcome == "prohibited"
    plan = planting.worst_containment
    assert plan is not None
    assert plan.disposal is not None
    assert (plan.verdict, plan.measures) == ("prohibited", ())
    assert plan.disposal.steps == disposal(planting.plants[0], plan.disposal.duty).steps
    assert answer.decisions[0].kind == "prohibited"
    assert planting.substitutes is not None
    assert planting.substitutes.plants or planting.substitutes.reason


def test_the_way_in_is_the_lane_of_the_stock_check() -> None:
    answer = check({"label": "Myriophyllum aquaticum", "brought_from": "US-TN"})
    library = demo_library()
    naming = library.naming(library.resolver.resolve("Myriophyllum aquaticum"))
    lane = answer.planting(1).lane
    assert lane is not None
    assert lane.lane == ship(
        library.law,
        naming,
        Jurisdiction("US-TN"),
        Jurisdiction("US-OH"),
        ON,
        answer.site.locality.county,
    )
    assert len(lane.sources) == len(lane.lane.steps)


def test_acts_left_out_are_taken_as_buying_keeping_and_planting_and_the_answer_says_so() -> None:
    answer = check("Iris versicolor")
    assert answer.acts == ("buy", "possess", "plant")
    assert any("names no acts" in assumption for assumption in answer.assumptions)
    assert not any(
        "names no acts" in assumption
        for assumption in check("Iris versicolor", acts=["plant"]).assumptions
    )


def test_a_planting_without_a_place_has_its_law_answered_alone() -> None:
    planting = check("Lythrum salicaria", places=[]).planting(1)
    assert planting.findings
    assert (planting.escape, planting.fits, planting.containment) == (None, (), ())
    assert any("pond, stream or bog" in note for note in planting.notes)


def test_a_design_that_no_measure_can_stand_on_is_named_with_its_pointer() -> None:
    foam = {
        "foam": "cork",
        "island_length_m": 2,
        "island_width_m": 1,
        "pot_diameter_cm": 20,
        "pot_height_cm": 18,
        "plant_mass_kg": 1.5,
    }
    planting = {
        "label": "Pontederia cordata",
        "count": 6,
        "holding": "foam-island",
        "container_volume_l": 4,
        "soil": "gravel",
        "design": foam,
    }
    answer = check(planting, places=[{**POND, "bank_contact": True}])
    assert [problem.pointer for problem in answer.problems] == ["/plantings/0/design/foam"]
    assert answer.planting(1).containment == ()
    assert answer.planting(1).escape is not None


def test_every_source_is_numbered_once_and_leads_back_to_what_rests_on_it(demo: PlanAnswer) -> None:
    assert [source.number for source in demo.sources] == list(range(1, len(demo.sources) + 1))
    described = [
        (
            source.kind,
            source.title,
            source.citation,
            source.class_name,
            source.name_as_listed,
            source.effective_from,
        )
        for source in demo.sources
    ]
    laws = [source for source in described if source[0] == "law"]
    assert len(set(laws)) == len(laws)
    for planting in demo.plantings:
        cited = {number for finding in planting.findings for number in finding.sources} | {
            number for step in (planting.lane.sources if planting.lane else ()) for number in step
        }
        assert cited <= set(planting.sources)
        for number in planting.sources:
            assert planting.number in demo.source(number).used_by
    for source in demo.sources:
        for number in source.used_by:
            assert source.number in demo.planting(number).sources
    for decision in demo.decisions:
        assert all(1 <= number <= len(demo.sources) for number in decision.sources)


def test_every_finding_s_citations_stand_among_the_sources_in_its_order(demo: PlanAnswer) -> None:
    for planting in demo.plantings:
        for finding in planting.findings:
            found = [
                (demo.source(n).list_id, demo.source(n).class_name, demo.source(n).name_as_listed)
                for n in finding.sources
            ]
            cited = dict.fromkeys(
                (c.list_id, c.class_name, c.name_as_listed) for c in finding.finding.citations
            )
            assert found[: len(cited)] == list(cited)


def test_references_behind_the_figures_have_numbers(demo: PlanAnswer) -> None:
    planting = demo.planting(2)
    figures = [
        figure
        for plan in planting.containment
        for measure in plan.measures
        for figure in measure.figures
    ]
    numbered = [
        number for figure in figures for text in figure.sources for number in demo.numbers_of(text)
    ]
    assert numbered
    assert set(numbered) <= set(planting.sources)


def test_what_is_to_be_decided_stands_in_the_stated_order(demo: PlanAnswer) -> None:
    kinds = [decision.kind for decision in demo.decisions]
    order = [
        "prohibited",
        "permit-required",
        "name-open",
        "conditional",
        "undetermined",
        "nothing-holds",
        "escape-high",
        "does-not-fit",
    ]
    known = [kind for kind in kinds if kind in order]
    assert known == sorted(known, key=order.index)
    assert kinds[0] == "prohibited"
    assert [decision.rank for decision in demo.decisions] == list(range(1, len(kinds) + 1))


def test_each_planting_stands_on_the_list_or_is_held_back_with_reasons(demo: PlanAnswer) -> None:
    listed = [line.planting for line in demo.shopping.lines]
    held_back = [line.planting for line in demo.shopping.held_back]
    assert sorted([*listed, *held_back]) == [planting.number for planting in demo.plantings]
    assert all(line.reasons for line in demo.shopping.held_back)
    for number in listed:
        planting = demo.planting(number)
        assert planting.resolution.confirmed
        assert all(
            finding.finding.outcome in ("no-entry-found", "listed-other-acts")
            for finding in planting.findings
            if finding.role != "water"
        )
        assert planting.worst_fit is None or planting.worst_fit.verdict != "does-not-fit"


def test_no_sentence_of_the_answer_says_that_a_plant_is_safe_or_legal(demo: PlanAnswer) -> None:
    text = plan_json(demo).decode()
    claims = re.findall(
        r"[^.\"]*\b(?:is|are|be) (?:safe|legal|lawful|allowed|permitted)\b[^.\"]*", text
    )
    assert not [
        claim
        for claim in claims
        if "no " not in claim and "not " not in claim and "none " not in claim
    ], claims
    assert "does not say that a plant may be bought" in demo.shopping.passes_means


def test_the_same_plan_gives_the_same_bytes_on_a_store_opened_anew(demo: PlanAnswer) -> None:
    again = check_plan(
        Library(Build(demo_path())), read_plan(parse_json(PLAN.read_bytes())), on=date(1999, 1, 1)
    )
    assert plan_json(again) == plan_json(demo)


def test_the_sensitivity_is_worked_out_when_asked() -> None:
    document = {
        "site": {"geometry": POINT},
        "places": [{"name": "Pond", "kind": "pond"}],
        "plantings": [{"label": "Iris pseudacorus"}],
    }
    found = (
        check_plan(demo_library(), read_plan(document), on=ON, explain=True).planting(1).sensitivity
    )
    assert found is not None
    assert found.effects
    assert check("Iris pseudacorus").planting(1).sensitivity is None


def test_work_that_somebody_stops_stops() -> None:
    class Stopped(Exception):
        pass

    def stop(done: int, total: int) -> None:
        raise Stopped

    with pytest.raises(Stopped):
        check_plan(
            demo_library(),
            read_plan({"site": {"state": "US-OH"}, "plantings": ["Iris", "Typha"]}),
            on=ON,
            progress=stop,
        )


_FACTS = ("outlet", "overflow", "flood_prone", "bank_contact", "visited")


@given(
    st.sets(st.sampled_from(_FACTS)),
    st.sampled_from(["Iris pseudacorus", "Pistia stratiotes", "Elodea canadensis"]),
)
@settings(max_examples=20, deadline=None)
def test_facts_left_out_never_narrow_the_escape(left_out: set[str], label: str) -> None:
    def escape(place: dict[str, Any]) -> Interval:
        found = check(label, places=[place]).planting(1).escape
        assert found is not None
        return found.interval

    stated, unstated = (
        escape(POND),
        escape({key: value for key, value in POND.items() if key not in left_out}),
    )
    assert unstated.low <= stated.low + 1e-12
    assert unstated.high >= stated.high - 1e-12
