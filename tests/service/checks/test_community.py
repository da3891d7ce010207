"""Community screening: sites read from GeoJSON, waters with all that could come to them, the
order of the sites.
"""

import csv
import io
import json
import math
from datetime import date
from pathlib import Path
from typing import Any

import pyogrio
import pytest
from jsonschema import Draft202012Validator

from service.checks.community.ranking import tier
from service.checks.community.screening import screen_community
from service.checks.community.values import CommunityAnswer
from service.errors import BadRequest
from service.escape import any_estimate, covering
from service.input.community import read_community
from service.input.community_document import PLACE_FACTS, CommunityDocument, SiteProperties
from service.input.json_document import parse_json
from service.output.community import COLUMNS, write_community_map, write_community_table
from service.output.html.community_report import community_report
from service.output.models.community import community_model
from tests.service.demo_stores import COMMUNITY, HERON_BEND, demo_library

ON = date(2026, 6, 1)


def site(
    name: str, plantings: Any, at: tuple[float, float] = HERON_BEND, **properties: Any
) -> dict[str, Any]:
    geometry = {"type": "Point", "coordinates": list(at)}
    return {
        "type": "Feature",
        "geometry": geometry,
        "properties": {"name": name, "plantings": plantings, **properties},
    }


def water(name: str, ring: list[tuple[float, float]]) -> dict[str, Any]:
    geometry = {"type": "Polygon", "coordinates": [[list(each) for each in ring]]}
    return {
        "type": "Feature",
        "geometry": geometry,
        "properties": {"layer": "water", "name": name, "kind": "pond", "flow": "still"},
    }


def screened(*features: dict[str, Any], **head: Any) -> CommunityAnswer:
    return screen_community(
        demo_library(),
        read_community({"type": "FeatureCollection", "features": list(features), **head}),
        on=ON,
    )


@pytest.fixture(scope="module")
def demo() -> CommunityAnswer:
    return screen_community(
        demo_library(), read_community(parse_json(COMMUNITY.read_bytes())), on=ON
    )


def test_the_schema_takes_its_example_and_the_demo_sites() -> None:
    schema = CommunityDocument.model_json_schema(by_alias=True)
    for example in schema["examples"]:
        Draft202012Validator(schema).validate(example)
        assert not read_community(example).problems
    assert not read_community(parse_json(COMMUNITY.read_bytes())).problems


def test_a_site_has_the_facts_of_a_plan_s_place() -> None:
    assert set(PLACE_FACTS) <= set(SiteProperties.model_fields)


def test_labels_in_one_text_are_as_good_as_a_list() -> None:
    one, other = screened(
        site("a", "Iris pseudacorus; Caltha palustris"),
        site("b", ["Iris pseudacorus", "Caltha palustris"]),
    ).sites
    assert [each.escape for each in one.plantings] == [each.escape for each in other.plantings]
    assert [each.outcome for each in one.plantings] == [each.outcome for each in other.plantings]


def test_each_water_s_chance_is_the_noisy_or_of_its_senders(demo: CommunityAnswer) -> None:
    for each in demo.waters:
        for end in ("likely", "low", "high"):
            missed = math.prod(1 - getattr(sender.estimate, end) for sender in each.senders)
            assert getattr(each.estimate, end) == pytest.approx(1 - missed)
        assert each.not_native.likely <= each.estimate.likely
        assert list(each.senders) == sorted(
            each.senders, key=lambda sender: -sender.estimate.likely
        )


def test_every_sender_of_a_water_is_a_planting_of_a_site_and_none_is_lost(
    demo: CommunityAnswer,
) -> None:
    sent = {
        (sender.site, sender.planting, each.water.water_id)
        for each in demo.waters
        for sender in each.senders
    }
    found = {
        (s.number, planting.number, each.water_id)
        for s in demo.sites
        for planting in s.plantings
        for each in planting.waters
    }
    assert sent == found


def test_a_site_s_escape_is_the_noisy_or_of_its_plantings(demo: CommunityAnswer) -> None:
    for each in demo.sites:
        whole = any_estimate(
            planting.escape for planting in each.plantings if planting.escape is not None
        )
        assert each.escape == whole


def test_sites_stand_in_the_stated_order(demo: CommunityAnswer) -> None:
    assert sorted(each.site for each in demo.priority) == [each.number for each in demo.sites]
    tiers = [each.tier for each in demo.priority]
    assert tiers == sorted(tiers)
    for each in demo.priority:
        plantings = demo.site(each.site).plantings
        assert each.tier == min(tier(planting) for planting in plantings)
    first = demo.site(demo.priority[0].site)
    assert first.outcome in ("prohibited", "permit-required")


def test_a_shared_water_is_reached_over_land_or_by_the_drain_that_the_site_names() -> None:
    x, y = HERON_BEND
    ring = [
        (x + 0.004, y),
        (x + 0.005, y),
        (x + 0.005, y + 0.001),
        (x + 0.004, y + 0.001),
        (x + 0.004, y),
    ]
    answer = screened(
        site("near", ["Iris pseudacorus"], place_kind="pond", outlet=True),
        site(
            "drained",
            ["Iris pseudacorus"],
            place_kind="pond",
            outlet=True,
            drains_to="Town pond",
            drains_along_m=900,
        ),
        site("far", ["Iris pseudacorus"], (x + 1.0, y), place_kind="pond"),
        water("Town pond", ring),
    )
    town = next(each for each in answer.waters if each.shared)
    by_site = {sender.site_name: sender for sender in town.senders}
    assert set(by_site) == {"near", "drained"}
    assert by_site["near"].relation == "near"
    assert by_site["near"].distance_m == pytest.approx(
        333, abs=5
    )  # 0.004 degrees of longitude at 41.68 N, WGS84
    assert (by_site["drained"].relation, by_site["drained"].distance_m) == ("downstream", 900)
    assert by_site["drained"].estimate.likely >= by_site["near"].estimate.likely


def test_a_site_that_may_be_pond_or_stream_covers_both() -> None:
    facts: dict[str, Any] = {"area_m2": 30, "depth_cm": 40}
    kinds: tuple[dict[str, Any], ...] = ({}, {"place_kind": "pond"}, {"place_kind": "stream"})
    either, pond, stream = (
        screened(site("x", ["Pistia stratiotes"], **facts, **kind)).sites[0].plantings[0].escape
        for kind in kinds
    )
    assert either is not None
    assert pond is not None
    assert stream is not None
    assert either == covering([pond, stream])


def test_a_label_that_may_mean_several_plants_covers_all() -> None:
    several = screened(site("x", ["Water celery"], place_kind="pond")).sites[0].plantings[0]
    assert several.escape is not None
    for candidate in several.resolution.candidates:
        alone = (
            screened(site("x", [candidate.accepted_name], place_kind="pond")).sites[0].plantings[0]
        )
        if alone.resolution.confirmed:
            assert alone.escape is not None
            assert alone.escape.interval in several.escape.interval


def test_what_cannot_be_read_is_named_and_the_rest_answered() -> None:
    community = read_community(
        {
            "type": "FeatureCollection",
            "features": [
                site("good", "Iris", OBJECTID=1, depth_cm="deep"),
                site("none", []),
                {"type": "Feature", "geometry": None, "properties": None},
                site("half", [{"label": "Iris", "count": 0}, "Typha"]),
                {
                    "type": "Feature",
                    "geometry": None,
                    "properties": {"layer": "water", "name": "x", "kind": "pond", "flow": "still"},
                },
            ],
        }
    )
    assert [(each.name, each.number) for each in community.sites] == [("good", 1), ("half", 4)]
    assert community.sites[0].places[0].place.depth_cm is None
    assert {problem.pointer for problem in community.problems} == {
        "/features/0/properties/depth_cm",
        "/features/1/properties/plantings",
        "/features/2",
        "/features/3/properties/plantings/0/count",
        "/features/4/geometry",
        "property 'OBJECTID'",
    }


@pytest.mark.parametrize(
    "document", [{}, {"type": "Feature"}, {"type": "FeatureCollection", "features": []}]
)
def test_a_document_without_a_site_is_refused(document: dict[str, Any]) -> None:
    with pytest.raises(BadRequest):
        read_community(document)


def test_gdal_reads_sites_plantings_and_waters(demo: CommunityAnswer, tmp_path: Path) -> None:
    path = tmp_path / "community.geojson"
    path.write_text(write_community_map(demo), encoding="utf-8")
    meta, _, geometry, columns = pyogrio.raw.read(path)
    layers = dict(zip(meta["fields"], columns, strict=True))["layer"].tolist()
    assert layers.count("site") == len(demo.sites)
    assert layers.count("planting") == sum(len(each.plantings) for each in demo.sites)
    assert layers.count("water") == len(demo.waters)
    assert all(wkb is not None for wkb in geometry)
    for feature in json.loads(path.read_text(encoding="utf-8"))["features"]:
        assert all(
            value is None or isinstance(value, str | int | float | bool)
            for value in feature["properties"].values()
        )


def test_the_table_has_a_row_for_each_planting(demo: CommunityAnswer) -> None:
    rows = list(csv.DictReader(io.StringIO(write_community_table(demo))))
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == sum(len(each.plantings) for each in demo.sites)
    assert "US-OH:plant" in rows[0]["findings"]


def test_the_same_document_gives_the_same_bytes(demo: CommunityAnswer) -> None:
    again = screen_community(
        demo_library(), read_community(parse_json(COMMUNITY.read_bytes())), on=date(1999, 1, 1)
    )
    assert community_model(again).model_dump_json() == community_model(demo).model_dump_json()
    assert community_report(again) == community_report(demo)


def test_the_printable_summary_names_every_site_and_leads_to_each_source(
    demo: CommunityAnswer,
) -> None:
    page = community_report(demo)
    for each in demo.sites:
        assert f'id="site-{each.number}"' in page
    for source in demo.sources:
        assert f'id="source-{source.number}"' in page
        assert f'href="#source-{source.number}"' in page


def test_work_that_somebody_stops_stops() -> None:
    class Stopped(Exception):
        pass

    def stop(done: int, total: int) -> None:
        if done == 2:
            raise Stopped

    community = read_community(
        {"type": "FeatureCollection", "features": [site(name, "Iris") for name in "abc"]}
    )
    with pytest.raises(Stopped):
        screen_community(demo_library(), community, on=ON, progress=stop)


def test_a_water_given_by_its_distance_is_shared_by_every_site_and_the_verdict_is_that_of_a_plan() -> (
    None
):
    document = {
        "type": "FeatureCollection",
        "waters": [{"name": "Mill Lake (invented)", "kind": "lake", "distance": "0.5 mi"}],
        "features": [
            {
                "type": "Feature",
                "geometry": None,
                "properties": {
                    "name": f"Site {number}",
                    "state": "US-CT",
                    "place_kind": "pond",
                    "plantings": "Trapa natans; Pontederia cordata",
                },
            }
            for number in (1, 2)
        ],
    }
    answer = screen_community(demo_library(), read_community(document), on=date(2026, 6, 1))
    (water,) = answer.waters
    assert {(sender.site, round(sender.distance_m or 0)) for sender in water.senders} == {
        (1, 805),
        (2, 805),
    }
    barred, native = answer.sites[0].plantings
    assert (barred.verdict, native.nativity and native.nativity.status) == ("hold-back", "native")
    assert "bars it" in barred.conditions[0]
    assert barred.restricted_in
