"""A plan's answer as GeoJSON: RFC 7946, and as GDAL reads it."""

import json
from datetime import date
from pathlib import Path
from typing import Any

import pyogrio
import pytest
import shapely

from service.checks.plan.check import check_plan
from service.checks.plan.values import PlanAnswer
from service.input.json_document import parse_json
from service.input.plan import read_plan
from service.output.plan_geojson import write_plan_map
from tests.service.demo_stores import PLAN, demo_library


@pytest.fixture(scope="module")
def answer() -> PlanAnswer:
    return check_plan(demo_library(), read_plan(parse_json(PLAN.read_bytes())), on=date(2026, 6, 1))


@pytest.fixture(scope="module")
def collection(answer: PlanAnswer) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(write_plan_map(answer))
    return found


def test_gdal_reads_every_feature_with_its_geometry_and_attributes(
    answer: PlanAnswer, tmp_path: Path
) -> None:
    path = tmp_path / "plan.geojson"
    path.write_text(write_plan_map(answer), encoding="utf-8")
    info = pyogrio.read_info(path)
    marks = [
        mark for place in answer.places for mark in (place.outlet_at, place.overflow_at) if mark
    ]
    count = 1 + len(answer.places) + len(answer.plantings) + len(answer.site.waters) + len(marks)
    assert info["features"] == count
    assert info["crs"] == "EPSG:4326"
    meta, _, geometry, columns = pyogrio.raw.read(path)
    fields = dict(zip(meta["fields"], columns, strict=True))
    by_layer: dict[str, list[str]] = {}
    for layer, wkb in zip(fields["layer"], geometry, strict=True):
        by_layer.setdefault(layer, []).append(shapely.from_wkb(wkb).geom_type)
    assert set(by_layer) == {"site", "place", "outlet", "overflow", "planting", "water"}
    assert set(by_layer["planting"]) == {"Point"}
    assert by_layer["place"][0] == "Polygon"
    names = [
        name
        for name, layer in zip(fields["name"], fields["layer"], strict=True)
        if layer == "planting"
    ]
    assert names == [planting.name for planting in answer.plantings]
    highs = [
        high
        for high, layer in zip(fields["escape_hi"], fields["layer"], strict=True)
        if layer == "planting"
    ]
    assert highs == pytest.approx(
        [planting.escape.interval.high for planting in answer.plantings if planting.escape],
        abs=1e-4,
    )


def test_attributes_are_plain_values_under_plain_names(collection: dict[str, Any]) -> None:
    for feature in collection["features"]:
        for name, value in feature["properties"].items():
            assert name.isidentifier()
            assert name == name.lower()
            assert value is None or isinstance(value, str | int | float | bool)


def test_the_collection_keeps_to_rfc_7946(collection: dict[str, Any]) -> None:
    assert collection["type"] == "FeatureCollection"
    assert "crs" not in collection
    for feature in collection["features"]:
        shape = shapely.from_geojson(json.dumps(feature["geometry"]))
        west, south, east, north = shape.bounds
        assert -180 <= west <= east <= 180
        assert -90 <= south <= north <= 90
        for part in shapely.get_parts(shape):
            if part.geom_type == "Polygon":
                assert part.exterior.is_ccw  # section 3.1.6
                assert not any(ring.is_ccw for ring in part.interiors)


def test_a_plan_without_a_position_has_features_without_geometry() -> None:
    document = {"site": {"state": "US-OH"}, "plantings": [{"label": "Iris versicolor"}]}
    found = json.loads(
        write_plan_map(check_plan(demo_library(), read_plan(document), on=date(2026, 6, 1)))
    )
    assert [feature["geometry"] for feature in found["features"]] == [None, None]
