"""The table of points that stand for a place: each with its source, and where it says it is."""

import csv
import io
from importlib.resources import files

import pytest
import shapely

from data_loaders.occurrences.places import METRES_PER_DEGREE
from service.store.database import Build
from service.values.vocabulary import JURISDICTION_NAMES
from tests.stores import reference_store

TABLE = files("data_loaders.occurrences").joinpath("known_points.csv").read_text(encoding="utf-8")
POINTS = list(csv.DictReader(io.StringIO(TABLE)))


def test_every_point_names_its_source_and_licence_or_says_that_it_is_from_memory() -> None:
    for point in POINTS:
        assert point["source"], point["name"]
        assert bool(point["licence"]) != (point["source"] == "memory"), point["name"]
    of_memory = [point for point in POINTS if point["source"] == "memory"]
    assert {point["kind"] for point in of_memory} == {"country centre", "garden", "herbarium"}
    assert len(of_memory) < len(POINTS) / 4


def test_every_state_has_its_capital_from_the_gazetteer() -> None:
    capitals = [point for point in POINTS if point["kind"] == "capital"]
    states = {state for state in JURISDICTION_NAMES if state.startswith("US-")}
    assert {point["state"] for point in capitals} == states
    assert all(point["source"].startswith("GeoNames ") for point in capitals)


@pytest.mark.parametrize("kind", ["capital", "garden", "herbarium"])
def test_a_point_lies_in_the_state_that_it_says(kind: str) -> None:
    build = Build(reference_store())
    rows = build.connection.execute("SELECT state, geometry FROM boundary")
    shapes: dict[str, list[shapely.Geometry]] = {}
    for state, geometry in rows:
        shapes.setdefault(state, []).append(shapely.from_wkb(geometry))
    build.close()
    near = 3_000 / METRES_PER_DEGREE  # outlines are coarse, and cities lie on rivers
    for point in POINTS:
        if point["kind"] == kind:
            place = shapely.Point(float(point["longitude"]), float(point["latitude"]))
            found = min(shapely.distance(shape, place) for shape in shapes[point["state"]])
            assert found <= near, point["name"]
