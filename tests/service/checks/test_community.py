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

from service.checks.community.screening import screen_community
from service.checks.community.values import SITE_GROUPS, CommunityAnswer
from service.errors import BadRequest
from service.escape import any_estimate, covering
from service.input.community import read_community
from service.input.community_document import PLACE_FACTS, CommunityDocument, SiteProperties
from service.input.json_document import parse_json
from service.output.community import (
    COLUMNS,
    community_layers,
    write_community_map,
    write_community_table,
)
from service.output.geopackage import write_geopackage
from service.output.html.report import community_report
from service.output.models.community import community_json
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
    geometry = {"type": "Polygon", "coordinates": [[list(corner) for corner in ring]]}
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
    assert [planting.escape for planting in one.plantings] == [
        planting.escape for planting in other.plantings
    ]
    assert [planting.outcome for planting in one.plantings] == [
        planting.outcome for planting in other.plantings
    ]


def test_each_water_s_chance_is_the_noisy_or_of_its_senders(demo: CommunityAnswer) -> None:
    for screened in demo.waters:
        for end in ("likely", "low", "high"):
            missed = math.prod(1 - getattr(sender.estimate, end) for sender in screened.senders)
            assert getattr(screened.estimate, end) == pytest.approx(1 - missed)
        assert screened.not_native.likely <= screened.estimate.likely
        assert list(screened.senders) == sorted(
            screened.senders, key=lambda sender: -sender.estimate.likely
        )


def test_every_sender_of_a_water_is_a_planting_of_a_site_and_none_is_lost(
    demo: CommunityAnswer,
) -> None:
    sent = {
        (sender.site, sender.planting, screened.water.water_id)
        for screened in demo.waters
        for sender in screened.senders
    }
    found = {
        (s.number, planting.number, chance.water_id)
        for s in demo.sites
        for planting in s.plantings
        for chance in planting.waters
    }
    assert sent == found


def test_a_site_s_escape_is_the_noisy_or_of_its_plantings(demo: CommunityAnswer) -> None:
    for screened in demo.sites:
        whole = any_estimate(
            planting.escape for planting in screened.plantings if planting.escape is not None
        )
        assert screened.escape == whole


def test_sites_stand_in_the_stated_order(demo: CommunityAnswer) -> None:
    assert sorted(member.site for member in demo.priority) == [
        member.number for member in demo.sites
    ]
    tiers = [entry.tier for entry in demo.priority]
    assert tiers == sorted(tiers)
    for group in SITE_GROUPS[:-1]:
        chances = [entry.likely for entry in demo.priority if entry.group == group]
        stated = [chance for chance in chances if chance is not None]
        assert stated == sorted(stated, reverse=True)
        assert chances == stated + [None] * (len(chances) - len(stated))
    for entry in demo.priority:
        outcomes = {planting.outcome for planting in demo.site(entry.site).plantings}
        assert (entry.group == "barred") == ("prohibited" in outcomes)
        assert (entry.group == "permit") == (
            "permit-required" in outcomes and "prohibited" not in outcomes
        )
        assert entry.likely == demo.site(entry.site).likely


def test_sites_without_waters_stand_in_a_group_of_their_own_and_not_above_the_worst() -> None:
    plantings = [{"label": "Nasturtium officinale"}]
    near = site("on the creek", plantings, outlet=True)
    nowhere = {**site("no position", plantings, state="US-OH"), "geometry": None}
    answer = screened(nowhere, near)
    assert [entry.site_name for entry in answer.priority] == ["on the creek", "no position"]
    last = answer.priority[1]
    assert (last.group, last.likely) == ("no-waters", None)
    assert "no waters known" in last.why
    assert answer.priority[0].group == "likely"
    assert answer.priority[0].likely is not None


def test_what_nobody_knows_puts_no_site_above_another() -> None:
    """A site of which nothing is said has the wider range, and no higher place for it."""
    plantings = [{"label": "Nasturtium officinale", "holding": "open-ground"}]
    open_pond = site("open", plantings, place_kind="pond", outlet=True, overflow=True, light="sun")
    unsaid = site("unsaid", plantings, place_kind="pond")
    answer = screened(unsaid, open_pond)
    wide, sure = answer.sites
    assert wide.likely is not None
    assert sure.likely is not None
    order = [entry.site_name for entry in answer.priority]
    assert (order[0] == "open") == (sure.likely >= wide.likely)


def test_every_property_and_id_comes_back_in_every_form(tmp_path: Path) -> None:
    own: dict[str, Any] = {
        "owner": "Ida Fennimore (invented)",
        "phone": "555-0100",
        "Rank": 7,
        "rank": 99,
    }
    feature = {**site("pond", "Iris versicolor", **own, visited_on="2026-05-02"), "id": "S-17"}
    lake = water("Lake", [(-84.29, 41.68), (-84.28, 41.68), (-84.28, 41.69), (-84.29, 41.68)])
    lake["properties"]["keeper"] = "county"
    answer = screened(feature, {**lake, "id": 5})
    found = {
        f["properties"]["layer"]: f for f in json.loads(write_community_map(answer))["features"]
    }
    assert found["site"]["id"] == "S-17"
    properties = found["site"]["properties"]
    assert properties["owner"] == own["owner"]
    assert properties["phone"] == "555-0100"
    assert (properties["rank"], properties["given_rank"], properties["Rank"]) == (1, 99, 7)
    assert properties["given_plantings"] == "Iris versicolor"
    assert {"rank", "name", "likely", "why"} <= set(properties)
    shared = next(
        f["properties"]
        for f in json.loads(write_community_map(answer))["features"]
        if f["properties"].get("shared")
    )
    assert shared["keeper"] == "county"
    (sent,) = json.loads(community_json(answer))["sites"]
    assert (sent["feature_id"], sent["given"]["owner"]) == ("S-17", own["owner"])
    (row,) = csv.DictReader(io.StringIO(write_community_table(answer)))
    assert (row["owner"], row["phone"]) == (own["owner"], "555-0100")
    assert not [p for p in answer.problems if "owner" in p.detail or "phone" in p.pointer]


def test_a_site_without_plantings_comes_back_as_it_came_with_why() -> None:
    bare = {**site("meadow", [], owner="Ida Fennimore (invented)"), "id": "S-9"}
    answer = screened(site("pond", "Iris versicolor"), bare)
    assert [entry.site_name for entry in answer.priority] == ["pond"]
    (sent,) = json.loads(community_json(answer))["unanswered"]
    assert (sent["feature_id"], sent["given"]["owner"]) == ("S-9", "Ida Fennimore (invented)")
    assert sent["geometry"]["type"] == "Point"
    features = json.loads(write_community_map(answer))["features"]
    (mapped,) = [f for f in features if f.get("id") == "S-9"]
    assert mapped["properties"]["owner"] == "Ida Fennimore (invented)"
    assert mapped["properties"]["why"] == "The site has no plantings."
    *_, row = csv.DictReader(io.StringIO(write_community_table(answer)))
    assert (row["site_name"], row["label"], row["owner"]) == (
        "meadow",
        "",
        "Ida Fennimore (invented)",
    )
    assert [p.detail for p in answer.problems] == ["The site has no plantings."]


def test_a_property_that_is_nearly_a_fact_is_asked_about() -> None:
    answer = screened(site("pond", "Iris", place_kid="pond"))
    assert [p.next_step for p in answer.problems] == ["Did you mean 'place_kind'?"]


def test_a_geopackage_has_three_layers_that_gdal_reads(
    demo: CommunityAnswer, tmp_path: Path
) -> None:
    path = tmp_path / "answer.gpkg"
    write_geopackage(community_layers(demo), demo.as_of, path)
    layers = {str(name) for name, _ in pyogrio.list_layers(path)}
    assert layers == {"sites", "plantings", "waters"}
    for layer, count in (
        ("sites", len(demo.sites)),
        ("plantings", sum(len(screened.plantings) for screened in demo.sites)),
        ("waters", len(demo.waters)),
    ):
        info = pyogrio.read_info(path, layer=layer)
        assert (info["features"], info["crs"]) == (count, "EPSG:4326")
    meta, _, _, columns = pyogrio.raw.read(path, layer="sites")
    fields = dict(zip(meta["fields"], columns, strict=True))
    ranks = {entry.site: entry.rank for entry in demo.priority}
    assert dict(zip(fields["site"].tolist(), fields["rank"].tolist(), strict=True)) == ranks


def test_names_that_differ_in_case_alone_are_columns_apart(tmp_path: Path) -> None:
    answer = screened({**site("pond", "Iris", Owner="a", owner="b", Shape=[1]), "id": 3})
    path = tmp_path / "answer.gpkg"
    write_geopackage(community_layers(answer), answer.as_of, path)
    meta, _, _, columns = pyogrio.raw.read(path, layer="sites")
    fields = {name: values[0] for name, values in zip(meta["fields"], columns, strict=True)}
    assert (fields["Owner"], fields["owner_2"], fields["Shape_2"]) == ("a", "b", "[1]")
    assert fields["id"] == 3


@pytest.mark.parametrize(
    "given",
    [
        {"a\x00b": 1, "a\x00c": 2, "a": 3, "shape\x00": 4, "\x00": 5, "": 6, "text": "x\x00y"},
        {f"measure {number}": number for number in range(2_400)},
    ],
    ids=["NUL", "more columns than SQLite takes"],
)
def test_a_geopackage_takes_whatever_a_site_came_with(
    given: dict[str, Any], tmp_path: Path
) -> None:
    path = tmp_path / "sites.gpkg"
    answer = screened(site("Heron Bend", ["Typha latifolia"], **given))
    write_geopackage(community_layers(answer), answer.as_of, path)
    meta, _, _, columns = pyogrio.raw.read(path, layer="sites")
    sites = {name: values[0] for name, values in zip(meta["fields"], columns, strict=True)}
    found = list(sites.values())
    rest = json.loads(sites.get("further_properties", "{}"))
    for name, value in given.items():
        stated = value.replace("\x00", "\ufffd") if isinstance(value, str) else value
        assert stated in found or rest[name] == stated


@pytest.mark.parametrize(
    ("coordinates", "words", "used"),
    [
        ([41.6832, -84.2921], "turned round", False),
        ([0, 0], "Gulf of Guinea", False),
        ([-79.3832, 43.6532], "no state of the United States", True),
    ],
)
def test_positions_that_cannot_be_meant_are_named(
    coordinates: list[float], words: str, used: bool
) -> None:
    feature = site("odd", "Iris versicolor")
    feature["geometry"] = {"type": "Point", "coordinates": coordinates}
    answer = screened(feature)
    found = [problem for problem in answer.problems if words in problem.detail]
    assert [problem.pointer.removesuffix("/coordinates") for problem in found] == [
        "/features/0/geometry"
    ]
    assert found[0].next_step
    assert (answer.sites[0].position is not None) == used


def test_an_outline_that_crosses_itself_is_named_and_mended() -> None:
    feature = site("bowtie", "Iris versicolor")
    ring = [(-84.293, 41.683), (-84.292, 41.684), (-84.292, 41.683), (-84.293, 41.684)]
    feature["geometry"] = {"type": "Polygon", "coordinates": [[*map(list, [*ring, ring[0]])]]}
    answer = screened(feature)
    (problem,) = answer.problems
    assert "crosses itself" in problem.detail
    assert answer.sites[0].shape is not None
    assert answer.sites[0].shape.is_valid


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
    town = next(screened for screened in answer.waters if screened.shared)
    by_site = {sender.site_name: sender for sender in town.senders}
    assert set(by_site) == {"near", "drained"}
    assert by_site["near"].relation == "near"
    assert by_site["near"].distance_m == pytest.approx(
        333, abs=5
    )  # 0.004 degrees of longitude at 41.68 N, WGS84
    assert (by_site["drained"].relation, by_site["drained"].distance_m) == ("downstream", 900)
    assert by_site["drained"].estimate.likely >= by_site["near"].estimate.likely


def test_a_site_has_waters_of_its_own_as_a_plan_has() -> None:
    creek = {"name": "Drawn Creek", "kind": "stream", "distance_m": 40, "relation": "downstream"}
    lake = {"name": "Far Lake", "kind": "lake", "distance": "0.5 mi"}
    unplaced = {"name": "Lost Pond", "kind": "pond"}
    answer = screened(
        site("one", ["Iris pseudacorus"], place_kind="pond", waters=[creek, unplaced]),
        site("two", ["Iris pseudacorus"], place_kind="pond", waters=[lake]),
    )
    found = {
        (screened.water.name, sender.site_name, sender.relation, round(sender.distance_m or 0))
        for screened in answer.waters
        for sender in screened.senders
        if screened.water.name in ("Drawn Creek", "Far Lake", "Lost Pond")
    }
    assert found == {("Drawn Creek", "one", "downstream", 40), ("Far Lake", "two", "near", 805)}
    assert not any(screened.shared for screened in answer.waters)
    assert [problem.pointer for problem in answer.problems] == ["/features/0/properties/waters/1"]


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


def test_a_site_where_no_label_names_a_plant_is_answered() -> None:
    answer = screened(
        site("Unknown", [{"label": "Qwertyuia zxcvbensis"}]),
        site("Known", [{"label": "Typha latifolia"}]),
    )
    unknown, known = answer.sites
    assert [planting.resolution.match for planting in unknown.plantings] == ["none"]
    assert [planting.verdict for planting in unknown.plantings] == ["hold-back"]
    assert unknown.plantings[0].escape is None
    assert known.plantings[0].escape is not None


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
    assert [(garden.name, garden.number) for garden in community.sites] == [
        ("good", 1),
        ("half", 4),
    ]
    assert community.sites[0].places[0].place.depth_cm is None
    assert {problem.pointer for problem in community.problems} == {
        "/features/0/properties/depth_cm",
        "/features/1/properties/plantings",
        "/features/2",
        "/features/3/properties/plantings/0/count",
        "/features/4/geometry",
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
    assert layers.count("planting") == sum(len(screened.plantings) for screened in demo.sites)
    assert layers.count("water") == len(demo.waters)
    assert all(wkb is not None for wkb in geometry)
    for feature in json.loads(path.read_text(encoding="utf-8"))["features"]:
        assert all(
            value is None or isinstance(value, str | int | float | bool)
            for name, value in feature["properties"].items()
            if not name.startswith("given_")
        )


def test_the_table_has_a_row_for_each_planting(demo: CommunityAnswer) -> None:
    rows = list(csv.DictReader(io.StringIO(write_community_table(demo))))
    assert tuple(rows[0])[: len(COLUMNS)] == COLUMNS
    assert len(rows) == sum(len(screened.plantings) for screened in demo.sites)
    assert "US-OH:plant" in rows[0]["findings"]


def test_the_same_document_gives_the_same_bytes(demo: CommunityAnswer) -> None:
    again = screen_community(
        demo_library(), read_community(parse_json(COMMUNITY.read_bytes())), on=date(1999, 1, 1)
    )
    assert community_json(again) == community_json(demo)
    assert community_report(again) == community_report(demo)


def test_the_printable_summary_names_every_site_and_leads_to_each_source(
    demo: CommunityAnswer,
) -> None:
    page = community_report(demo)
    for screened in demo.sites:
        assert f'id="site-{screened.number}"' in page
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
