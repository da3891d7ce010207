"""Maps to pick from and maps of a plan: every place a link with a name, small, and true to where
things lie.
"""

import re
import xml.etree.ElementTree as ET

import pytest

from service.geography.geodesy import distance_m
from service.output.maps import map_box, plan_maps
from service.output.maps.view import View
from service.store.geography import (
    states_in_box,
)
from service.values.vocabulary import Jurisdiction
from tests.service.demo_stores import HERON_BEND, demo_library
from tests.service.output.plans import POINT, answer_of, demo_answer

OHIO = Jurisdiction("US-OH")


def links(svg: str) -> list[ET.Element]:
    return [element for element in ET.fromstring(svg).iter() if element.tag.endswith("}a")]


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
    assert [water.water for water in around.waters] == list(answer.site.waters)
    assert len({water.key for water in around.waters}) == len(around.waters)
    for water in around.waters:
        assert (f">{water.key}</text>" in around.svg) == water.on_map
    assert "Terrace pond" in site.svg
    assert "Bog bed" in site.caption
    assert around.states == 2


def test_a_site_of_one_point_has_one_wide_map() -> None:
    maps = plan_maps(answer_of({"site": {"geometry": POINT}, "plantings": ["Iris"]}), {})
    assert [ET.fromstring(str(plan_map.svg)).get("width") for plan_map in maps] == ["176mm"]
