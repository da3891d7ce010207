"""Maps to pick from and maps of a plan: every place a link with a name, small, and true to where
things lie.
"""

import re
import xml.etree.ElementTree as ET

import pytest
import shapely

from service.geography.geodesy import Box, distance_m
from service.output.maps import map_box, plan_maps
from service.output.maps.picker import counties_map, county_map, states_map
from service.output.maps.view import View
from service.store.outlines import (
    county_outlines,
    state_outlines,
    states_in_box,
    water_shapes_in_box,
)
from service.values.vocabulary import JURISDICTION_NAMES, STATES, Jurisdiction
from tests.service.demo_stores import HERON_BEND, demo_library
from tests.service.output.plans import POINT, answer_of, demo_answer

OHIO = Jurisdiction("US-OH")


def links(svg: str) -> list[ET.Element]:
    return [each for each in ET.fromstring(svg).iter() if each.tag.endswith("}a")]


def test_the_map_of_states_has_each_state_once_as_a_named_link_and_is_small() -> None:
    svg = str(states_map(state_outlines(demo_library().build.connection)))
    found = links(svg)
    assert sorted(each.get("data-state", "") for each in found) == sorted(STATES)
    for each in found:
        state = Jurisdiction(each.get("data-state", ""))
        assert each.get("aria-label") == f"{state.removeprefix('US-')}, {JURISDICTION_NAMES[state]}"
        assert each.get("href") == f"/?state={state}#where"
    assert len(svg) < 60_000


@pytest.mark.parametrize("state", ["US-OH", "US-AK", "US-HI", "US-VA", "US-DC", "US-LA"])
def test_the_map_of_a_state_has_each_county_once(state: str) -> None:
    library, code = demo_library(), Jurisdiction(state)
    counties = library.counties.of_state(code)
    svg = str(counties_map(code, county_outlines(library.build.connection, code), counties, None))
    assert sorted(each.get("data-county", "") for each in links(svg)) == sorted(
        county.fips for county in counties
    )
    numbers = [
        float(number)
        for path in re.findall(r' d="([^"]+)"', svg)
        for number in re.findall(r"M(-?[\d.]+) ", path)
    ]
    assert min(numbers) >= -1
    assert max(numbers) <= 641


def test_a_press_on_the_map_of_a_county_gives_the_position_under_it() -> None:
    library = demo_library()
    county = library.counties.by_fips("39051")
    outline = county_outlines(library.build.connection, OHIO)[county.fips]
    root = ET.fromstring(str(county_map(county, outline, ())))
    path = next(each for each in root.iter() if each.get("class") == "ground").get("d", "")
    x, y = map(float, re.match(r"M(-?[\d.]+) (-?[\d.]+)", path).groups())  # type: ignore[union-attr]
    longitude = float(root.get("data-west", 0)) + (x - 4) * float(root.get("data-east-per-unit", 0))
    latitude = float(root.get("data-north", 0)) - (y - 4) * float(
        root.get("data-north-per-unit", 0)
    )
    nearest = shapely.get_coordinates(outline)
    assert min(distance_m(longitude, latitude, *place) for place in nearest) < 60


def test_the_map_of_a_county_shows_the_waters_that_are_loaded() -> None:
    library = demo_library()
    county = library.counties.by_fips("39051")
    outline = county_outlines(library.build.connection, OHIO)[county.fips]
    waters = water_shapes_in_box(library.build.connection, Box(*outline.bounds), 4_000)
    svg = str(county_map(county, outline, waters))
    assert "<title>Ferrow River</title>" in svg
    assert water_shapes_in_box(library.build.connection, Box(10, 10, 11, 11), 4_000) == ()


def test_the_names_on_a_map_are_text() -> None:
    county = demo_library().counties.by_fips("39051")
    outline = shapely.box(-84, 41, -83.9, 41.1)
    svg = str(
        county_map(
            county,
            outline,
            [("<script>alert(1)</script>", shapely.LineString([(-84, 41), (-83.9, 41.1)]))],
        )
    )
    assert "<script>" not in svg
    assert ET.fromstring(svg) is not None


def test_a_view_is_true_to_scale() -> None:
    view = View(*HERON_BEND, mm_per_m=0.01, width_mm=176, height_mm=84)
    west, south, east, north = view.bounds
    # 176 mm at 0.01 mm a metre are 17.6 km.
    assert distance_m(west, HERON_BEND[1], east, HERON_BEND[1]) == pytest.approx(17_600, rel=0.002)
    assert distance_m(HERON_BEND[0], south, HERON_BEND[0], north) == pytest.approx(8_400, rel=0.002)
    assert view.xy(*HERON_BEND) == (88, 42)


def test_the_scale_bar_is_as_long_as_it_says() -> None:
    for mm_per_m in (1.0, 0.1, 0.01, 0.003):
        bars = list(View(*HERON_BEND, mm_per_m, 86, 84).furniture())
        length = float(re.search(r"h([\d.]+)v", bars[1])[1])  # type: ignore[index]
        words = re.search(r">([\d.,]+) (km|m)<", bars[2])
        assert words
        assert length / mm_per_m == pytest.approx(
            float(words[1].replace(",", "")) * (1000 if words[2] == "km" else 1), rel=0.01
        )


def test_every_water_of_the_answer_bears_a_letter_and_the_site_s_places_their_names() -> None:
    answer = demo_answer()
    box = map_box(answer)
    assert box is not None
    around, site = plan_maps(answer, states_in_box(demo_library().build.connection, box))
    assert [each.water for each in around.waters] == list(answer.site.waters)
    assert len({each.key for each in around.waters}) == len(around.waters)
    for each in around.waters:
        assert (f">{each.key}</text>" in around.svg) == each.on_map
    assert "Terrace pond" in site.svg
    assert "Bog bed" in site.caption
    assert around.states == 2


def test_a_site_of_one_point_has_one_wide_map() -> None:
    maps = plan_maps(answer_of({"site": {"geometry": POINT}, "plantings": ["Iris"]}), {})
    assert [ET.fromstring(str(each.svg)).get("width") for each in maps] == ["176mm"]
